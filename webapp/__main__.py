import sys

# A worker process loads this file too, and has no use for the command.
if __name__ == "__main__":
    from webapp.command.cli import main

    sys.exit(main())
