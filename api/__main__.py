"""``python -m api``: start the service with settings from the environment."""

from api.serve import main

if __name__ == "__main__":
    main()
