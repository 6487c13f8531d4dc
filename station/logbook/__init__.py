"""The logbook: every flight of a folder in a table, with totals, bests and curves; the logs stay the truth.

Values and their sorting are pure (`row`, `note`, `entry`, `totals`, `table`); `book` walks the folder, `index` keeps
what was computed, `notes` what the owner wrote.
"""
