"""Speed: each figure beside a peer's, measured in the same run."""
