"""The command ``sweepkit``, and ``python -m sweepkit``: loads the rest once Ctrl-C is watched."""

from __future__ import annotations


def main() -> None:
    """Run the command line."""
    try:
        from sweepkit.cli import interrupt

        interrupt.watch()
        from sweepkit.cli.main import main as run

        run()
    except KeyboardInterrupt:
        raise SystemExit(130) from None
    except SystemExit:
        raise
    except BaseException:
        if interrupt.has_come():  # an import may turn Ctrl-C into an error of its own
            raise SystemExit(130) from None
        raise


if __name__ == "__main__":
    main()
