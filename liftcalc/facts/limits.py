"""How much an input may hold. What is beyond is refused by its field, before it costs time."""

MOST_BYTES = 16_000_000
"""Of any one file."""
MOST_VALUES = 300_000
"""Values (numbers, texts, lists, mappings) in one file, each alias counted as if written out."""
MOST_FILES = 200
"""Files that one member of a job names."""
MOST_TEXT, MOST_LINE = 4_000, 400
"""Characters of a text, and of one that is a single line."""
MOST_ROWS, MOST_COLUMNS = 100_000, 200
"""Of a table."""
MOST_UNPACKED, MOST_PARTS = 12_000_000, 200
"""Bytes of a workbook once unpacked, and parts that it is packed from."""
MOST_FEATURES, MOST_POINTS = 5_000, 40_000
"""Lines and areas of one site, and the corners and points of everything in it together."""
MOST_ENTITIES = 12_000
"""Entities in the file of one drawing, and in its model space once its blocks are exploded."""
LEAST = 1e-6
"""Where a number has to be above 0: a gram, a micrometre and the like, below which nothing is."""
LEAST_SIZE = 1e-100
"""A number nearer to 0 than this, and not 0, is a slip or an attack in every field."""
