"""``python -m tests.simulation``: every simulated table written anew."""

from tests.simulation import control, faults, limits

TABLES = (limits, control, faults)


def main() -> None:
    for table in TABLES:
        table.main()


if __name__ == "__main__":
    main()
