"""Prints how often the rules of deaths call on quiet farms, and how soon after deaths rise.

Run it by hand, some minutes: python -m tests.bench.deaths
"""

from __future__ import annotations

from tests.day.quiet_farm import alarms, called_by

FARMS = 20
RATES = (0.01, 0.05, 0.1, 0.3, 1.0, 3.0)
RISES = ((0.05, 1.0), (0.05, 2.0), (0.3, 2.0), (1.0, 2.0), (1.0, 3.0), (3.0, 6.0), (3.0, 9.0))


def main() -> None:
    """Print both tables."""
    print("24 tanks, 90 days: alarms of both rules (of them calls for the veterinarian)")
    for looked_at in (1.0, 0.85):
        print(f"{looked_at:.0%} of the days looked at")
        for rate in RATES:
            both, vets = alarms(rate, looked_at, FARMS, seed=1)
            print(f"  {rate:>5g} a tank and day: {both:.1f} ({vets:.1f})")
    print("Part of tanks called by the 1st, 2nd, 3rd, 5th, 7th day after deaths rose")
    for before, after in RISES:
        parts = (called_by(before, after, day, 400, seed=2) for day in (1, 2, 3, 5, 7))
        print(f"  {before:g} to {after:g} a day: {', '.join(f'{part:.0%}' for part in parts)}")


if __name__ == "__main__":
    main()
