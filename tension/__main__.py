"""Run the command line: ``python -m tension``."""


def main() -> None:
    """Run the command line and exit with its code.

    Raises
    ------
    SystemExit
        With 130 if it is broken off while it loads.
    """
    try:
        from tension.cli.main import run
    except KeyboardInterrupt:
        raise SystemExit(130) from None
    run()


if __name__ == "__main__":
    main()
