"""How often visits are read rightly, against simulated nests whose story is known."""

from __future__ import annotations

from collections import Counter

from data_demo.simulate import deal_cases, simulate_season
from tests.bench.clock import heading
from tests.nesting.scoring import Score, score

BOXES = [f"B{i:04d}" for i in range(1200)]
SEEDS = (11, 12, 13)
FATES = ("fledged", "failed", "unknown", "never laid")


def table(counts: Counter[tuple[str, str]]) -> None:
    print(f"    {'true fate':<24}" + "".join(f"{'read ' + fate:>16}" for fate in FATES))
    for true in ("fledged", "failed", "never laid", "ongoing at season end"):
        cells = "".join(f"{counts[true, read]:>16,}" for read in FATES)
        print(f"    {true:<24}{cells}")


def main() -> None:
    heading(f"Reading of simulated nests, hard cases included, seeds {SEEDS}, 1,200 boxes each")
    for interval_days in (3, 7, 10, 14):
        total = Score()
        nests = 0
        for seed in SEEDS:
            season = simulate_season(
                BOXES,
                year=2025,
                seed=seed,
                cases=deal_cases(BOXES, seed=seed),
                interval_days=interval_days,
            )
            nests += len(season.truth)
            total = total.joined(score(season, BOXES))
        print(
            f"  every {interval_days:>2} days: {nests:,} nests; right number of attempts "
            f"{total.number_rate():.1%} of boxes; right species {total.species_rate():.1%}; "
            f"right fate where the visits tell {total.fate_rate():.1%} of "
            f"{total.telling.total():,}; called fledged though lost too young: "
            f"{len(total.fledged_too_young)}"
        )
        if interval_days == 7:
            print("    where the visits hold evidence of the fate:")
            table(total.telling)
            print("    all nests:")
            table(total.fates)


if __name__ == "__main__":
    main()
