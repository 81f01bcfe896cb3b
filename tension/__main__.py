"""Run the command line: ``python -m tension``."""


def main() -> None:
    """Run the command line and exit with its code."""
    from tension.cli.main import run

    run()


if __name__ == "__main__":
    main()
