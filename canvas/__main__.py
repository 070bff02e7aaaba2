"""Run the command line: `python -m canvas`."""

from canvas.cli import main

if __name__ == "__main__":
    main()
