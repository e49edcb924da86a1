"""What is measured when a year is over, and against what; no code that runs, so that pictures can use it."""

MEASURED = ("infested_area", "mat_area", "climbed_hosts", "fruiting_hosts")
UNITS = ("m2", "m2", "1", "1")
TITLES = {
    "infested_area": ("infested area", "area"),
    "mat_area": ("living cover of mat", "area"),
    "climbed_hosts": ("climbed hosts", "hosts"),
    "fruiting_hosts": ("fruiting hosts", "hosts"),
}
WHEN = ("then", "now", "untreated")
AGAINST = ("then", "untreated")
CONFIDENCE = 0.9
