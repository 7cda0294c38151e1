"""`python -m sproutlapse`: the same as the command `sproutlapse`."""

from sproutlapse.cli import main

# Worker processes import this file again when they start; only the first process is to run a command.
if __name__ == "__main__":
    main()
