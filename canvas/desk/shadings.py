"""What the map can be shaded by."""

#: Key of the map, title, letter of its shortcut, icon.
SHADINGS = (
    ("", "&Nothing", "N", "shading"),
    ("height", "&Height", "H", "ground"),
    ("slope", "&Slope", "S", "slope"),
    ("slope_classes", "Slope &classes", "C", "slope"),
    ("aspect", "&Aspect", "A", "aspect"),
    ("hillshade", "Hill sha&ding", "D", "shading"),
    ("energy", "S&un on the slope", "U", "sun"),
    ("cutfill", "Cut and &fill", "X", "ground"),
    ("flow", "Water &gathers", "G", "kind-watercourse"),
    ("wetness", "&Wetness index", "W", "kind-vegetation"),
    ("hollows", "H&ollows", "O", "kind-water_body"),
    ("rain_depth", "Depth of &rain on the land", "R", "rain"),
    ("rain_speed", "Speed of ra&in on the land", "I", "rain"),
)
