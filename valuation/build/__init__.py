"""The build: a plan as the shop writes it, what its steps cost and take, when a limited crew is done with them.

Import from the modules of this room: ``plan_file`` (reading a plan), ``plan`` and ``terms`` (what a plan holds),
``network`` and ``crew`` (what comes before what, and who does it when), ``scenarios`` (the build
carried out many times).
"""
