"""The plan of the invented park: extent, lines, patches, stock, sources. Change it and run `make_site.py`.

Lengths are in metres; places are (x, y), east and north of the south-west corner.
"""

SEED = 20240612
WIDTH, HEIGHT, CELL, FINE = 600.0, 400.0, 2.0, 0.5  # m; lines and mats are drawn on the fine grid
MAT_COVER = 0.95  # living cover where the mat is closed
NOTICE = "Invented: this park, its paths, trees, vine, neighbours and crews do not exist."
UNITS = ("street side", "west ravine", "east ravine")

STREAM = ((-5, 30), (60, 58), (130, 26), (220, 74), (310, 36), (390, 78), (470, 38), (540, 86), (605, 56))
WEST_RILL = ((150, 334), (160, 316), (142, 288), (188, 238), (166, 188), (212, 140), (186, 98), (216, 58))
EAST_RILL = ((446, 330), (430, 304), (452, 264), (404, 222), (434, 170), (388, 126), (416, 92), (396, 64))
DRIVE = ((300, 402), (292, 360), (308, 312), (289, 264))  # gravel, from the gate to the cross path
CROSS = (
    (-5, 252),
    (70, 290),
    (130, 250),
    (220, 282),
    (289, 256),
    (360, 290),
    (435, 254),
    (510, 286),
    (605, 246),
)
# a foot trail between the ravines
RIDGE = ((289, 267), (308, 212), (280, 160), (308, 108), (288, 52), (300, -5))
PAVED = ((308, 346, 374, 394), (262, 274, 284, 293))  # car park and shelter: x from, x to, y from, y to
GLADES = ((255, 150, 26), (520, 190, 24), (70, 190, 20), (360, 335, 17), (330, 20, 16))  # x, y, radius
FLOWERS = (452, 186, 26, 15)  # a bank of rare spring flowers: x, y, half its length, half its width

# x, y, area (m2), elongation, its direction (degrees), and how long the mat has stood (0 young to 1 old)
PATCHES = (
    (112, 377, 2660, 2.0, -12, 1.0),
    (478, 377, 1560, 1.7, 10, 0.9),
    (152, 304, 1180, 1.6, 80, 0.8),
    (182, 212, 900, 2.2, 95, 0.7),
    (198, 96, 760, 1.8, 60, 0.6),
    (433, 314, 620, 1.5, 70, 0.7),
    (421, 192, 460, 1.8, 80, 0.5),
    (330, 236, 320, 1.3, 30, 0.5),
    (562, 232, 240, 1.4, 120, 0.4),
    (498, 66, 160, 1.9, 35, 0.4),
    (58, 128, 100, 1.2, 0, 0.2),
    (268, 137, 40, 1.1, 0, 0.2),
)
# planted vine in the gardens over the boundary: x, y, as many fruiting hosts
SOURCES = (
    (86.0, 409.0, 1.0),
    (143.0, 415.0, 0.5),
    (462.0, 408.0, 0.8),
    (531.0, 419.0, 0.4),
    (611.0, 322.0, 0.3),
)

# kind, how many, least distance to others of the kind (m), shortest and tallest (m)
STOCK = (
    ("tree", 2250, 4.5, 9.0, 26.0),
    ("sapling", 950, 2.0, 2.5, 8.0),
    ("shrub", 480, 2.0, 1.0, 3.0),
    ("log", 90, 3.0, 0.3, 0.8),
    ("stump", 60, 3.0, 0.3, 0.9),
)
CROWN = {"small": 3.5, "medium": 5.2, "large": 7.0}  # crown radius of a tree by girth, m
CLIMBED, FRUITING, UNKNOWN, UNKNOWN_FRUITING = 80, 20, 7, 2
# how readily the vine climbs each
LIKING = {"tree": 1.0, "sapling": 0.5, "fence": 0.35, "shrub": 0.25, "stump": 0.2, "log": 0.1}
