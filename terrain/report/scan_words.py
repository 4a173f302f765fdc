"""What became of the points of a scan, in words for pages and the terminal."""

from terrain.report import figures
from terrain.survey.cloud_facts import CloudFacts


def scan_rows(facts: CloudFacts) -> list[tuple[str, str]]:
    """Each thing that was done with points, and how many; what was not done is left out."""
    ways = {"cloth": "a cloth let down on them", "opening": "windows opened over them"}
    rows = [
        ("points in the file", facts.read),
        ("marked as withheld", -facts.withheld),
        ("marked as noise", -facts.noise),
        ("of other classes than ground", -facts.other_classes),
        ("farther out than the job needs", -facts.outside),
        ("thinned: not the median of their cell", -facts.thinned),
        ("merged with another at the same spot", -facts.merged),
        ("stray, far below all round them", -facts.stray),
        (f"no ground, by {ways.get(facts.way, facts.way)}", -facts.not_ground),
        ("used as ground", facts.used),
    ]
    ends = (rows[0][0], rows[-1][0])
    return [
        (name, figures.count(number) if number >= 0 else f"\N{MINUS SIGN}{figures.count(-number)}")
        for name, number in rows
        if number or name in ends
    ]
