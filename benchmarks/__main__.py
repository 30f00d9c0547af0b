"""All ratios, one run, one table: `python -m benchmarks`."""

from __future__ import annotations

from benchmarks import book, measuring, pixel_path, start


def main() -> None:
    """Print the table."""
    print("| what | measured | goal |\n|---|---|---|")
    for module in (start, pixel_path, measuring, book):
        for what, measured, goal in module.rows():
            print(f"| {what} | {measured} | {goal} |")


if __name__ == "__main__":
    main()
