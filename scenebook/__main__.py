"""Run the command: `python -m scenebook` does what `scenebook` does."""

from scenebook.cli import main

if __name__ == "__main__":
    main()
