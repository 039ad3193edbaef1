"""``python -m kdkit`` is the command ``kdkit``."""

from kdkit.cli import main

if __name__ == "__main__":
    main()
