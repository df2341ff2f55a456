#include "io/case_keys.h"

#include <string.h>

#include "materials/material.h"

/* ------------------------------------------------------------------------------------------------ the table */

#define QUANTITY(kind_, range_) .type = VALUE_QUANTITY, .kind = (kind_), .range = (range_)
#define SCHEDULE(kind_, range_) .type = VALUE_SCHEDULE, .kind = (kind_), .range = (range_)
#define LENGTH QUANTITY(QUANTITY_LENGTH, RANGE_ABOVE_ZERO)
#define HEIGHT QUANTITY(QUANTITY_LENGTH, RANGE_ANY)
#define SHARE QUANTITY(QUANTITY_SHARE, RANGE_SHARE)
#define TEMPERATURE QUANTITY(QUANTITY_TEMPERATURE, RANGE_ANY)
#define TEMPERATURES SCHEDULE(QUANTITY_TEMPERATURE, RANGE_ANY)
#define CHOICE(words_) .type = VALUE_CHOICE, .choices = (words_)
#define NEW_NAME .type = VALUE_NAME, .required = true

#define SHAPES "cylinder|tube|frustum|sphere|disc|profile|spheroid|cap|ring|box|prism|swept|helix|serpentine|union|difference|intersection"
/* Sizes and place of a shape, of a part and of a piece of one alike. */
#define SHAPE_KEYS(s)                                                                                                                          \
  {s, "radius", LENGTH, .help = "cylinder, disc, sphere; widest of a spheroid; base of a cap; section of a ring, rod or helix; outer of a tube"}, \
  {s, "diameter", LENGTH, .help = "the same as a diameter"},                                                                                  \
  {s, "inner_radius", LENGTH, .help = "tube"},                                                                                                \
  {s, "inner_diameter", LENGTH, .help = "the same as a diameter"},                                                                            \
  {s, "bottom_radius", LENGTH, .help = "frustum"},                                                                                            \
  {s, "bottom_diameter", LENGTH, .help = "the same as a diameter"},                                                                           \
  {s, "top_radius", LENGTH, .help = "frustum"},                                                                                               \
  {s, "top_diameter", LENGTH, .help = "the same as a diameter"},                                                                              \
  {s, "ring_radius", LENGTH, .help = "ring, helix: from the axis to the middle of the section"},                                              \
  {s, "ring_diameter", LENGTH, .help = "the same as a diameter"},                                                                             \
  {s, "z", HEIGHT, .help = "height of the shape's lowest point before it is tipped (triangles: after); without it 0, or the top of `on`"},                       \
  {s, "height", LENGTH, .help = "cylinder, tube, frustum, disc, spheroid, cap, prism"},                                                       \
  {s, "points", .type = VALUE_POINTS, .help = "profile: [r, z] in order; ends where it began, or both ends on the axis"},                     \
  {s, "outline", .type = VALUE_OUTLINE, .help = "prism: [x, y] in order, closed by itself; `height` draws it up"},                            \
  {s, "path", .type = VALUE_PATH, .help = "swept: [x, y, z] of the middle of a bent rod; its ends are half balls"},                           \
  {s, "turns", QUANTITY(QUANTITY_NUMBER, RANGE_ABOVE_ZERO), .help = "helix, about the z axis, counter-clockwise from above"},                 \
  {s, "pitch", LENGTH, .help = "helix: rise per turn; serpentine: from run to run"},                                                          \
  {s, "runs", QUANTITY(QUANTITY_NUMBER, RANGE_ABOVE_ZERO), .help = "serpentine: number of straight runs along x, side by side along y"},      \
  {s, "run_length", LENGTH, .help = "serpentine: of the straight part of a run"},                                                             \
  {s, "low", .type = VALUE_POINT, .help = "box: the corner with the smallest x, y, z"},                                                       \
  {s, "high", .type = VALUE_POINT, .help = "box: the corner with the largest"},                                                               \
  {s, "size", .type = VALUE_POINT, .help = "box, instead of low and high: [along x, y, z], about the z axis, standing at `z`"},               \
  {s, "from", .type = VALUE_POINT, .help = "cylinder along any axis: the middle of one end, instead of height and z; xyz only"},              \
  {s, "to", .type = VALUE_POINT, .help = "and of the other (the mouth of an open vessel)"},                                                   \
  {s, "of", .type = VALUE_LIST, .child = SECTION_PIECE, .help = "union, intersection: the shapes; difference: the first without the others; with a wall let pieces overlap by more than twice its thickness"}, \
  {s, "scale", QUANTITY(QUANTITY_NUMBER, RANGE_ABOVE_ZERO), .help = "makes the shape this many times as large; walls keep their thickness"},   \
  {s, "spin", QUANTITY(QUANTITY_ANGLE, RANGE_ANY), .help = "about its own upright axis, counter-clockwise from above, before `tilt`; xyz only"}, \
  {s, "tilt", QUANTITY(QUANTITY_ANGLE, RANGE_ANY), .help = "tips it over towards +x, about the middle of its foot (triangles: the file's origin; its top is then what is up); rz: 180 deg, upside down"}, \
  {s, "turn", QUANTITY(QUANTITY_ANGLE, RANGE_ANY), .help = "then about the upright axis through its foot (triangles: the file's own); xyz only"}, \
  {s, "move", .type = VALUE_POINT, .help = "[x, y, z], after the turn; xyz only"},                                                            \
  {s, "axis_at", .type = VALUE_POINT, .help = "xyz only: [x, y] of the axis of a round shape; without it [0, 0]"}

static const case_key table[] = {
    {SECTION_CASE, "title", .type = VALUE_TEXT, .help = "one line for the head of every result"},
    {SECTION_CASE, "dimension", CHOICE("rz|xyz"), .required = true,
     .help = "rz: a figure of revolution about the z axis; xyz: any shape. z is up"},
    {SECTION_CASE, "room", .type = VALUE_MAP, .child = SECTION_ROOM, .help = "the air around, and the floor"},
    {SECTION_CASE, "mains", .type = VALUE_MAP, .child = SECTION_MAINS, .help = "your table of mains water by month; bodies without a temperature take it"},
    {SECTION_CASE, "parts", .type = VALUE_LIST, .child = SECTION_PART, .required = true,
     .help = "what the rig is made of, painted in this order: a later part covers an earlier one"},
    {SECTION_CASE, "bodies", .type = VALUE_LIST, .child = SECTION_BODY, .required = true, .help = "bodies of water that freeze"},
    {SECTION_CASE, "baths", .type = VALUE_LIST, .child = SECTION_BATH, .help = "baths of brine"},
    {SECTION_CASE, "coils", .type = VALUE_LIST, .child = SECTION_COIL, .help = "refrigerant tubes: a helix; in xyz also to and fro, or along any line"},
    {SECTION_CASE, "plant", .type = VALUE_MAP, .child = SECTION_PLANT, .help = "compressors and condenser behind the coils"},
    {SECTION_CASE, "surfaces", .type = VALUE_LIST, .child = SECTION_SURFACE,
     .help = "how surfaces meet the room or another part; the last rule that fits counts"},
    {SECTION_CASE, "stages", .type = VALUE_LIST, .child = SECTION_STAGE, .help = "what is done one after the other; without them, one freeze"},
    {SECTION_CASE, "probes", .type = VALUE_LIST, .child = SECTION_PROBE, .help = "places whose temperature is written to the series"},
    {SECTION_CASE, "grid", .type = VALUE_MAP, .child = SECTION_GRID, .help = "how finely the rig is divided"},
    {SECTION_CASE, "mirror", .type = VALUE_MAP, .child = SECTION_MIRROR, .help = "xyz: planes about which the rig is symmetric; less is computed, all is told"},
    {SECTION_CASE, "run", .type = VALUE_MAP, .child = SECTION_RUN, .help = "how it is computed and what is kept"},

    {SECTION_ROOM, "temperature", TEMPERATURES, .preset = "20 degC", .help = "of the air; may change with time"},
    {SECTION_ROOM, "swing", QUANTITY(QUANTITY_DIFFERENCE, RANGE_ABOVE_ZERO), .help = "half of what it rises and falls by in a day, about that temperature"},
    {SECTION_ROOM, "warmest_at", QUANTITY(QUANTITY_TIME, RANGE_NOT_BELOW_ZERO), .preset = "15 h", .help = "the hour of the day that is the warmest"},
    {SECTION_ROOM, "begins_at", QUANTITY(QUANTITY_TIME, RANGE_NOT_BELOW_ZERO), .preset = "8 h", .help = "the hour of the day at which the run begins"},
    {SECTION_ROOM, "humidity", SHARE, .preset = "50 %", .help = "relative humidity of the air"},
    {SECTION_ROOM, "pressure", QUANTITY(QUANTITY_PRESSURE, RANGE_ABOVE_ZERO), .preset = "1013.25 hPa(a)", .help = "air pressure at the site"},
    {SECTION_ROOM, "film", QUANTITY(QUANTITY_FILM, RANGE_NOT_BELOW_ZERO), .preset = "8 W/m2K",
     .help = "between surfaces without a rule and the room, convection and radiation together"},
    {SECTION_ROOM, "floor_temperature", TEMPERATURES, .help = "of the floor under the rig; without it, the room's"},

    {SECTION_MAINS, "month", CHOICE("january|february|march|april|may|june|july|august|september|october|november|december"), .required = true,
     .help = "in which the run begins; a stage may name another"},
    {SECTION_MAINS, "january", TEMPERATURE, .help = "of the water from the tap in that month"},
    {SECTION_MAINS, "february", TEMPERATURE, .help = "of the water from the tap in that month"},
    {SECTION_MAINS, "march", TEMPERATURE, .help = "of the water from the tap in that month"},
    {SECTION_MAINS, "april", TEMPERATURE, .help = "of the water from the tap in that month"},
    {SECTION_MAINS, "may", TEMPERATURE, .help = "of the water from the tap in that month"},
    {SECTION_MAINS, "june", TEMPERATURE, .help = "of the water from the tap in that month"},
    {SECTION_MAINS, "july", TEMPERATURE, .help = "of the water from the tap in that month"},
    {SECTION_MAINS, "august", TEMPERATURE, .help = "of the water from the tap in that month"},
    {SECTION_MAINS, "september", TEMPERATURE, .help = "of the water from the tap in that month"},
    {SECTION_MAINS, "october", TEMPERATURE, .help = "of the water from the tap in that month"},
    {SECTION_MAINS, "november", TEMPERATURE, .help = "of the water from the tap in that month"},
    {SECTION_MAINS, "december", TEMPERATURE, .help = "of the water from the tap in that month"},

    {SECTION_PART, "name", NEW_NAME, .help = "how other keys and --set call it"},
    {SECTION_PART, "shape", CHOICE(SHAPES "|triangles"),
     .help = "with `wall` the shape is the hollow inside, and the wall grows outward"},
    {SECTION_PART, "around", .type = VALUE_REFERENCE, .among = AMONG_PARTS,
     .help = "instead of shape: a layer of thickness `wall` around a part listed before (foam round a tub)"},
    SHAPE_KEYS(SECTION_PART),
    {SECTION_PART, "on", .type = VALUE_REFERENCE, .among = AMONG_PARTS,
     .help = "instead of z: stands on this part, a vessel's floor inside if it is hollow"},
    {SECTION_PART, "file", .type = VALUE_TEXT, .help = "triangles: .stl or .obj, looked for beside the case file: a solid; with `wall` the hollow of a vessel; without it, and with a liquid "
             "`in` it, the mould itself, walls and all; xyz only"},
    {SECTION_PART, "unit", CHOICE("m|cm|mm|in|ft"), .help = "triangles: the length that 1 is in that file"},
    {SECTION_PART, "fingerprint", .type = VALUE_TEXT, .help = "triangles: written with the results; a file that has changed is refused"},
    {SECTION_PART, "wall", LENGTH, .help = "makes a vessel: thickness of wall and floor, outside the hollow"},
    {SECTION_PART, "floor", LENGTH, .help = "with a wall: thickness of the floor, where it is another (cylinder, disc, frustum, box, prism)"},
    {SECTION_PART, "wall_side", CHOICE("outward|inward"), .preset = "outward",
     .help = "inward: the shape is the outside, and the wall lies within it (one that is neither cylinder, disc, frustum, box nor prism then ends "
             "at the hollow's top)"},
    {SECTION_PART, "open", CHOICE("top|none"), .preset = "top", .help = "vessels: open at the top, or closed all round"},
    {SECTION_PART, "material", .type = VALUE_SOLID, .child = SECTION_MATERIAL, .help = "a known solid by name, or your own figures"},
    {SECTION_PART, "held", TEMPERATURES, .help = "a rod or jacket held at this temperature; needs no material"},
    {SECTION_PART, "held_film", QUANTITY(QUANTITY_FILM, RANGE_ABOVE_ZERO), .help = "between the coolant at `held` and the surface; without it, perfect"},
    {SECTION_PART, "temperature", TEMPERATURE, .help = "at the start; without it, the room's"},

    {SECTION_PIECE, "name", .type = VALUE_NAME, .help = "how --set calls it; may be left out"},
    {SECTION_PIECE, "shape", CHOICE(SHAPES), .required = true, .help = "as of a part"},
    SHAPE_KEYS(SECTION_PIECE),

    {SECTION_MATERIAL, "conductivity", QUANTITY(QUANTITY_CONDUCTIVITY, RANGE_ABOVE_ZERO), .help = "constant"},
    {SECTION_MATERIAL, "density", QUANTITY(QUANTITY_DENSITY, RANGE_ABOVE_ZERO), .help = "constant"},
    {SECTION_MATERIAL, "specific_heat", QUANTITY(QUANTITY_SPECIFIC_HEAT, RANGE_ABOVE_ZERO), .help = "constant"},
    {SECTION_MATERIAL, "table", .type = VALUE_TABLE,
     .help = "instead: rows [temperature, conductivity, heat per volume, liquid share], rising; two rows at one temperature make a jump"},
    {SECTION_MATERIAL, "latent_heat", QUANTITY(QUANTITY_VOLUMETRIC_LATENT, RANGE_NOT_BELOW_ZERO), .preset = "0 J/m3",
     .help = "with a table: per volume, from solid to liquid"},

    {SECTION_BODY, "name", NEW_NAME, .help = "how other keys and --set call it"},
    {SECTION_BODY, "in", .type = VALUE_REFERENCE, .among = AMONG_PARTS, .required = true, .help = "the vessel that holds it"},
    {SECTION_BODY, "volume", QUANTITY(QUANTITY_VOLUME, RANGE_ABOVE_ZERO), .help = "of the liquid as poured; one of volume, mass, level, depth"},
    {SECTION_BODY, "mass", QUANTITY(QUANTITY_MASS, RANGE_ABOVE_ZERO), .help = "instead"},
    {SECTION_BODY, "level", HEIGHT, .help = "instead: height z of the liquid surface"},
    {SECTION_BODY, "depth", LENGTH, .help = "instead: of the liquid above the lowest point inside"},
    {SECTION_BODY, "temperature", TEMPERATURE, .help = "as poured; without it, the mains' of the month, without those the room's"},
    {SECTION_BODY, "motion", .type = VALUE_WORD_OR_MAP, .choices = "still|stirred|none", .child = SECTION_MOTION, .preset = "still",
     .help = "how the liquid moves: by its own density, stirred, or not at all; with air: aerated the bubbles stir it unless this says otherwise"},
    {SECTION_BODY, "ice", CHOICE("andersson_inaba|yen|fukusako|pringle|slack"), .preset = "andersson_inaba",
     .help = "published law for the conductivity of ice"},
    {SECTION_BODY, "material", .type = VALUE_MAP, .child = SECTION_MATERIAL, .help = "instead of water and ice: your own table"},
    {SECTION_BODY, "air", .type = VALUE_WORD_OR_QUANTITY, .choices = "tap|stood|boiled|degassed|aerated", .kind = QUANTITY_SHARE,
     .range = RANGE_NOT_BELOW_ZERO,
     .help = "asks where the ice is clear or white: how the water was treated (aerated: air is blown through while it freezes), or the air "
             "in it as a share of what it holds at 0 degC"},
    {SECTION_BODY, "minerals", QUANTITY(QUANTITY_DENSITY, RANGE_NOT_BELOW_ZERO), .help = "with air: dissolved in the water; without it, 150 mg/L"},
    {SECTION_BODY, "bubbles_at", QUANTITY(QUANTITY_NUMBER, RANGE_ABOVE_ZERO),
     .help = "with air: how many times more air than the water can hold when bubbles form; without it, 2.5"},
    {SECTION_BODY, "gas_film", SCHEDULE(QUANTITY_LENGTH, RANGE_ABOVE_ZERO),
     .help = "with air: thickness of the still film before the ice; without it, from the motion"},

    {SECTION_MOTION, "kind", CHOICE("still|stirred|none|pumped"), .required = true, .help = "as above; pumped: one temperature like stirred, films from `speed`"},
    {SECTION_MOTION, "speed", QUANTITY(QUANTITY_SPEED, RANGE_ABOVE_ZERO), .help = "pumped: of the liquid past walls and tubes: the pump's flow over the free cross-section"},
    {SECTION_MOTION, "stirring", QUANTITY(QUANTITY_SPECIFIC_POWER, RANGE_ABOVE_ZERO), .preset = "0.01 W/kg",
     .help = "stirred: power that the stirrer leaves in the liquid"},
    {SECTION_MOTION, "film", QUANTITY(QUANTITY_FILM, RANGE_ABOVE_ZERO), .help = "at walls and front; without it, from correlations"},
    {SECTION_MOTION, "film_factor", QUANTITY(QUANTITY_NUMBER, RANGE_ABOVE_ZERO), .help = "what the correlations of films give is multiplied by this; without it, 1"},
    {SECTION_MOTION, "horizontal_factor", QUANTITY(QUANTITY_NUMBER, RANGE_ABOVE_ZERO), .help = "still: conductivity sideways is multiplied by this"},
    {SECTION_MOTION, "vertical_factor", QUANTITY(QUANTITY_NUMBER, RANGE_ABOVE_ZERO), .help = "still: and upward by this"},
    {SECTION_MOTION, "coherency", SHARE, .preset = "20 %", .help = "ice share at which slush stops moving"},

    {SECTION_BATH, "name", NEW_NAME, .help = "how other keys and --set call it"},
    {SECTION_BATH, "in", .type = VALUE_REFERENCE, .among = AMONG_PARTS, .required = true, .help = "the vessel that holds it"},
    {SECTION_BATH, "salt", CHOICE("CaCl2|NaCl|MgCl2|KCl|ethylene_glycol|propylene_glycol|ethanol"), .help = "what is dissolved; with bags, theirs"},
    {SECTION_BATH, "strength", SHARE, .help = "mass of anhydrous salt over mass of brine; this, or onset, or bags"},
    {SECTION_BATH, "onset", TEMPERATURE, .help = "instead: the temperature at which the brine begins to freeze"},
    {SECTION_BATH, "bags", .type = VALUE_LIST, .child = SECTION_BAG, .help = "instead: the bags of salt that went into `water`"},
    {SECTION_BATH, "water", QUANTITY(QUANTITY_VOLUME, RANGE_ABOVE_ZERO), .help = "with bags: poured in, measured at 20 degC; then no volume, mass, level"},
    {SECTION_BATH, "liquidus", CHOICE("toner_catling|melinder"), .preset = "toner_catling", .help = "published source of the freezing curve"},
    {SECTION_BATH, "mush", CHOICE("maxwell|parallel"), .preset = "maxwell", .help = "conductivity of ice and brine together"},
    {SECTION_BATH, "volume", QUANTITY(QUANTITY_VOLUME, RANGE_ABOVE_ZERO), .help = "of the brine as poured; one of volume, mass, level, depth"},
    {SECTION_BATH, "mass", QUANTITY(QUANTITY_MASS, RANGE_ABOVE_ZERO), .help = "instead"},
    {SECTION_BATH, "level", HEIGHT, .help = "instead: height z of the surface with mould and coil in place"},
    {SECTION_BATH, "depth", LENGTH, .help = "instead: above the lowest point inside"},
    {SECTION_BATH, "temperature", TEMPERATURE, .help = "at the start; without it, the room's"},
    {SECTION_BATH, "salt_mode", CHOICE("closed|mixed|both"), .help = "closed: salt stays where it is; mixed: one strength for all liquid (default when "
                                                                    "stirred); both: closed, and a second run mixed (default of a still bath)"},
    {SECTION_BATH, "held_brine", QUANTITY(QUANTITY_SHARE, RANGE_SHARE), .preset = "20 %", .help = "mixed: brine held in the ice (5 to 50 %, judgement)"},
    {SECTION_BATH, "motion", .type = VALUE_WORD_OR_MAP, .choices = "still|stirred|none", .child = SECTION_MOTION, .preset = "still",
     .help = "how the brine moves"},
    {SECTION_BATH, "open_surface", .type = VALUE_FLAG, .preset = "yes", .help = "takes up water from the room's air where it is bare"},

    {SECTION_BAG, "grade", .type = VALUE_TEXT, .required = true, .help = "what the bag says: lastwater brine --help lists them; or \"CaCl2 78 %\""},
    {SECTION_BAG, "mass", QUANTITY(QUANTITY_MASS, RANGE_ABOVE_ZERO), .required = true, .help = "of what is in it"},

    {SECTION_COIL, "name", NEW_NAME, .help = "how other keys and --set call it"},
    {SECTION_COIL, "in", .type = VALUE_REFERENCE, .among = AMONG_ALL, .required = true, .help = "the bath, body or part it lies in"},
    {SECTION_COIL, "shape", CHOICE("helix|serpentine|path|channels"), .preset = "helix",
     .help = "how the tube is bent; rz: helix. channels: no tube, the refrigerant runs all through the part `in` (plate, rod, finger, the air of a freezer), "
             "which is one temperature"},
    {SECTION_COIL, "conductance", QUANTITY(QUANTITY_CONDUCTANCE, RANGE_ABOVE_ZERO), .help = "channels: from the refrigerant to all of the part"},
    {SECTION_COIL, "axis_at", .type = VALUE_POINT, .help = "xyz: [x, y] of the axis of a helix, of the middle of a serpentine; without it [0, 0]"},
    {SECTION_COIL, "turn", QUANTITY(QUANTITY_ANGLE, RANGE_ANY), .help = "xyz: about that axis, counter-clockwise from above"},
    {SECTION_COIL, "runs", QUANTITY(QUANTITY_NUMBER, RANGE_ABOVE_ZERO), .help = "serpentine: straight runs along x, `pitch` apart"},
    {SECTION_COIL, "run_length", LENGTH, .help = "serpentine: of the straight part"},
    {SECTION_COIL, "upright", .type = VALUE_FLAG, .preset = "no", .help = "serpentine: yes: its runs lie one above the other; no: side by side along y"},
    {SECTION_COIL, "path", .type = VALUE_PATH, .help = "path: [x, y, z] of the middle of the tube"},
    {SECTION_COIL, "radius", LENGTH, .help = "of the helix, to the middle of the tube; this, or around with gap, or inside with gap"},
    {SECTION_COIL, "diameter", LENGTH, .help = "the same as a diameter"},
    {SECTION_COIL, "around", .type = VALUE_REFERENCE, .among = AMONG_PARTS, .help = "the part it goes round"},
    {SECTION_COIL, "inside", .type = VALUE_REFERENCE, .among = AMONG_PARTS, .help = "the vessel along whose wall it runs"},
    {SECTION_COIL, "gap", LENGTH, .help = "free space between tube and that part"},
    {SECTION_COIL, "tube", LENGTH, .help = "outer diameter of the tube"},
    {SECTION_COIL, "tube_wall", LENGTH, .help = "thickness of the tube's wall; both needed unless the shape is channels"},
    {SECTION_COIL, "material", .type = VALUE_SOLID, .child = SECTION_MATERIAL, .preset = "copper tube", .help = "of the tube"},
    {SECTION_COIL, "z", HEIGHT, .help = "height of the lower end, to the middle of the tube; needed unless the shape is path"},
    {SECTION_COIL, "length", LENGTH, .help = "of tube in the helix; any two of length, turns, pitch, height"},
    {SECTION_COIL, "turns", QUANTITY(QUANTITY_NUMBER, RANGE_ABOVE_ZERO), .help = "number of turns"},
    {SECTION_COIL, "pitch", LENGTH, .help = "rise per turn; serpentine: from run to run"},
    {SECTION_COIL, "height", LENGTH, .help = "rise from end to end"},
    {SECTION_COIL, "refrigerant_temperature", TEMPERATURES, .help = "inside the tube; without it the plant finds it"},
    {SECTION_COIL, "suction", QUANTITY(QUANTITY_PRESSURE, RANGE_ANY), .help = "instead: what the low-side gauge reads, e.g. 12 psig; with refrigerant"},
    {SECTION_COIL, "refrigerant", CHOICE("R290|R134a|R404A|R410A|R449A"), .help = "with suction: what is in it (R449A: dew point, estimated)"},
    {SECTION_COIL, "inner_film", QUANTITY(QUANTITY_FILM, RANGE_NOT_BELOW_ZERO), .preset = "1500 W/m2K",
     .help = "refrigerant to tube, on the inner area; 0 W/m2K: perfect"},
    {SECTION_COIL, "outer_film", QUANTITY(QUANTITY_FILM, RANGE_NOT_BELOW_ZERO), .preset = "0 W/m2K",
     .help = "tube (channels: the part) to what is around, on the outer area; 0 W/m2K: perfect"},
    {SECTION_COIL, "superheated_share", QUANTITY(QUANTITY_SHARE, RANGE_SHARE), .preset = "15 %", .help = "of the length that holds only vapour; all along the tube it acts beside the rest, which is wetted"},
    {SECTION_COIL, "superheated_film", QUANTITY(QUANTITY_FILM, RANGE_ABOVE_ZERO), .preset = "80 W/m2K", .help = "vapour to tube there"},
    {SECTION_COIL, "spread", .type = VALUE_FLAG, .preset = "no", .help = "yes: its outer film acts on the cells it covers, without the tube's own field"},

    {SECTION_PLANT, "refrigerant", CHOICE("R290|R134a|R404A|R410A|R449A"), .required = true, .help = "R290 is propane; R449A is an estimate"},
    {SECTION_PLANT, "compressors", .type = VALUE_LIST, .child = SECTION_COMPRESSOR, .required = true, .help = "in parallel; they may be unlike"},
    {SECTION_PLANT, "condensing", TEMPERATURE, .help = "fixed condensing temperature; this, or discharge, or condenser"},
    {SECTION_PLANT, "discharge", QUANTITY(QUANTITY_PRESSURE, RANGE_ANY), .help = "instead: what the high-side gauge reads, e.g. 12.7 bar(g), 184 psig"},
    {SECTION_PLANT, "condenser", QUANTITY(QUANTITY_CONDUCTANCE, RANGE_ABOVE_ZERO), .help = "instead: heat to room air per kelvin"},
    {SECTION_PLANT, "superheat", QUANTITY(QUANTITY_DIFFERENCE, RANGE_NOT_BELOW_ZERO), .preset = "5 K", .help = "useful, in the coil"},
    {SECTION_PLANT, "suction_superheat", QUANTITY(QUANTITY_DIFFERENCE, RANGE_NOT_BELOW_ZERO), .preset = "10 K", .help = "at the compressor"},
    {SECTION_PLANT, "subcooling", QUANTITY(QUANTITY_DIFFERENCE, RANGE_NOT_BELOW_ZERO), .preset = "5 K", .help = "of the liquid"},
    {SECTION_PLANT, "suction_line", QUANTITY(QUANTITY_DIFFERENCE, RANGE_NOT_BELOW_ZERO), .preset = "1.5 K",
     .help = "pressure lost on the way, as a drop of saturation temperature"},
    {SECTION_PLANT, "cutout", QUANTITY(QUANTITY_PRESSURE, RANGE_ANY), .preset = "0.2 bar(g)", .help = "low-pressure switch stops the plant"},
    {SECTION_PLANT, "restart", QUANTITY(QUANTITY_PRESSURE, RANGE_ANY), .preset = "1 bar(g)", .help = "and lets it start again"},
    {SECTION_PLANT, "high_cutout", QUANTITY(QUANTITY_PRESSURE, RANGE_ANY),
     .help = "high-pressure switch stops the plant; without it, at 60 degC condensing"},
    {SECTION_PLANT, "condenser_lag", QUANTITY(QUANTITY_TIME, RANGE_ABOVE_ZERO), .preset = "60 s", .help = "in which the condenser warms after a start"},
    {SECTION_PLANT, "hottest_gas", TEMPERATURE, .preset = "120 degC", .help = "leaving a compressor; beyond it, an event"},
    {SECTION_PLANT, "reversing_coil", QUANTITY(QUANTITY_CONDUCTANCE, RANGE_ABOVE_ZERO),
     .help = "reversed mode: coil in room air that evaporates; without it, hot gas alone"},
    {SECTION_PLANT, "voltage", QUANTITY(QUANTITY_VOLTAGE, RANGE_ABOVE_ZERO), .preset = "230 V", .help = "of the socket"},
    {SECTION_PLANT, "socket", QUANTITY(QUANTITY_CURRENT, RANGE_ABOVE_ZERO), .help = "its fuse; the plant is compared with it"},
    {SECTION_PLANT, "start", CHOICE("together|staggered"), .preset = "staggered", .help = "compressors start at once, or 10 to 60 s apart"},
    {SECTION_PLANT, "tariff", QUANTITY(QUANTITY_NUMBER, RANGE_ABOVE_ZERO), .help = "price of a kilowatt-hour, in your money"},
    {SECTION_PLANT, "expansion", CHOICE("valve|capillary"), .preset = "valve",
     .help = "valve: after a low-pressure stop the coil's own warmth must bring `restart`; capillary: at rest the sides even out"},
    {SECTION_PLANT, "switch_off", .type = VALUE_FLAG, .preset = "no",
     .help = "yes: also find when it could be switched off and the stored cold still ends the first freeze; the march is repeated some 8 times"},
    {SECTION_PLANT, "minimum_off", QUANTITY(QUANTITY_TIME, RANGE_NOT_BELOW_ZERO), .preset = "3 min", .help = "shortest stop"},
    {SECTION_PLANT, "thermostat", .type = VALUE_MAP, .child = SECTION_THERMOSTAT, .help = "without it the plant runs on"},

    {SECTION_COMPRESSOR, "name", NEW_NAME, .help = "how --set calls it"},
    {SECTION_COMPRESSOR, "displacement", QUANTITY(QUANTITY_FLOW, RANGE_ABOVE_ZERO), .help = "swept volume per time; this or capacity and power"},
    {SECTION_COMPRESSOR, "best_efficiency", SHARE, .preset = "58 %", .help = "with displacement: isentropic, motor included"},
    {SECTION_COMPRESSOR, "capacity", .type = VALUE_NUMBERS, .help = "ten coefficients of the maker's rating, W against dew points in degC"},
    {SECTION_COMPRESSOR, "power", .type = VALUE_NUMBERS, .help = "ten coefficients, W"},

    {SECTION_COMPRESSOR, "made_for", CHOICE("R290|R134a|R404A|R410A|R449A"), .help = "the refrigerant it was built and rated for; without it, the plant's"},
    {SECTION_COMPRESSOR, "running_current", QUANTITY(QUANTITY_CURRENT, RANGE_ABOVE_ZERO), .help = "on its plate; without it, from its power"},
    {SECTION_COMPRESSOR, "starting_current", QUANTITY(QUANTITY_CURRENT, RANGE_ABOVE_ZERO), .help = "on its plate; without it, five times that"},

    {SECTION_THERMOSTAT, "part", .type = VALUE_REFERENCE, .among = AMONG_ALL, .required = true, .help = "whose mean temperature it feels"},
    {SECTION_THERMOSTAT, "set_point", TEMPERATURE, .required = true, .help = "middle of its band"},
    {SECTION_THERMOSTAT, "differential", QUANTITY(QUANTITY_DIFFERENCE, RANGE_ABOVE_ZERO), .preset = "2 K", .help = "between off and on"},

    {SECTION_SURFACE, "of", .type = VALUE_REFERENCE, .among = AMONG_ALL, .required = true, .help = "the part, body or bath"},
    {SECTION_SURFACE, "against", .type = VALUE_REFERENCE, .among = AMONG_ALL | AMONG_ROOM, .preset = "room", .help = "what it meets: room, or another"},
    {SECTION_SURFACE, "faces", CHOICE("all|top|bottom|side"), .preset = "all", .help = "of `of`, by the direction they look"},
    {SECTION_SURFACE, "film", SCHEDULE(QUANTITY_FILM, RANGE_NOT_BELOW_ZERO), .help = "one of film, fixed, insulated, floor, contact"},
    {SECTION_SURFACE, "fixed", TEMPERATURES, .help = "surface held at this temperature"},
    {SECTION_SURFACE, "insulated", .type = VALUE_FLAG, .help = "yes: no heat passes"},
    {SECTION_SURFACE, "floor", SCHEDULE(QUANTITY_FILM, RANGE_NOT_BELOW_ZERO), .help = "conductance per area to the floor"},
    {SECTION_SURFACE, "contact", SCHEDULE(QUANTITY_RESISTANCE, RANGE_NOT_BELOW_ZERO), .help = "resistance between two parts"},
    {SECTION_SURFACE, "temperature", TEMPERATURES, .help = "beyond the film; without it, the room's"},
    {SECTION_SURFACE, "condensation", .type = VALUE_FLAG, .preset = "no", .help = "yes: below the dew point moisture gives up its heat too"},

    {SECTION_STAGE, "name", NEW_NAME, .help = "how results and --set call it"},
    {SECTION_STAGE, "kind", CHOICE("precool|freeze|hold|fill|exchange|pour_off|add_salt|power_off|release|draw|temper|melt"), .required = true,
     .help = "what is done; fill, exchange, pour_off, add_salt and draw are done at once unless they last (for, until)"},
    {SECTION_STAGE, "until", .type = VALUE_WORD_OR_MAP, .choices = "frozen|time|released|lets_go|melted", .child = SECTION_UNTIL,
     .help = "what ends it; a freeze: frozen, a release: released, a melt: melted, others: time. lets_go: no bath holds a mould any more"},
    {SECTION_STAGE, "for", QUANTITY(QUANTITY_TIME, RANGE_ABOVE_ZERO), .help = "how long, when time ends it"},
    {SECTION_STAGE, "limit", QUANTITY(QUANTITY_TIME, RANGE_ABOVE_ZERO), .preset = "120 h", .help = "longest, when something else ends it"},
    {SECTION_STAGE, "plant", CHOICE("cools|heats|off"), .help = "during the stage; without it, cools; a release that has a plant coil: heats; power_off: off"},
    {SECTION_STAGE, "stirrers", CHOICE("run|stand"), .help = "during the stage; without it, run; power_off: stand"},
    {SECTION_STAGE, "air", CHOICE("on|off"), .help = "blown through water with air: aerated, during the stage; without it, on; power_off: off"},
    {SECTION_STAGE, "set_point", TEMPERATURE, .help = "of the thermostat during the stage"},
    {SECTION_STAGE, "room", TEMPERATURE, .help = "air of the room during the stage"},
    {SECTION_STAGE, "surfaces", .type = VALUE_LIST, .child = SECTION_SURFACE, .help = "rules that hold in this stage only: a lid, a fan, warm water"},
    {SECTION_STAGE, "body", .type = VALUE_REFERENCE, .among = AMONG_BODIES, .help = "whose water or ice; without it, the first body"},
    {SECTION_STAGE, "water", TEMPERATURE, .help = "fill, exchange: of the water poured; without it, the body's"},
    {SECTION_STAGE, "month", CHOICE("january|february|march|april|may|june|july|august|september|october|november|december"),
     .help = "fill, exchange: water from the mains as it comes in that month (mains); instead of water"},
    {SECTION_STAGE, "pieces", QUANTITY(QUANTITY_MASS, RANGE_ABOVE_ZERO), .help = "fill: ice among it, part of its mass"},
    {SECTION_STAGE, "pieces_temperature", TEMPERATURE, .help = "fill: of that ice; without it, 0 degC"},
    {SECTION_STAGE, "share", SHARE, .help = "exchange: of the liquid that is replaced; without it, all"},
    {SECTION_STAGE, "bath", .type = VALUE_REFERENCE, .among = AMONG_BATHS, .help = "add_salt: into which bath; release with dip: out of which; without it, the first"},
    {SECTION_STAGE, "grade", .type = VALUE_TEXT, .help = "add_salt: what the bag says, as in baths[].bags[]"},
    {SECTION_STAGE, "mass", QUANTITY(QUANTITY_MASS, RANGE_ABOVE_ZERO), .help = "add_salt: of what is in the bag"},
    {SECTION_STAGE, "dip", TEMPERATURE, .help = "release: the mould goes from `bath` into a vessel as large, filled with water this warm; the plant rests; the bath waits as it is"},
    {SECTION_STAGE, "film", QUANTITY(QUANTITY_LENGTH, RANGE_ABOVE_ZERO), .help = "release: film of water that counts as released; without it, 0.5 mm"},
    {SECTION_STAGE, "wind", QUANTITY(QUANTITY_SPEED, RANGE_NOT_BELOW_ZERO), .help = "temper, melt: of the air round the piece; without it, still"},
    {SECTION_STAGE, "air_film", QUANTITY(QUANTITY_FILM, RANGE_ABOVE_ZERO), .help = "temper, melt: convection and radiation together, in place of the correlations"},
    {SECTION_STAGE, "underside", CHOICE("covered|open"), .help = "temper, melt: what the piece stands on; without it, covered"},
    {SECTION_STAGE, "pool", QUANTITY(QUANTITY_VOLUME, RANGE_ABOVE_ZERO), .help = "temper, melt: water round the piece, which cools and may freeze, by what the ice takes; what the room does to it is left out"},
    {SECTION_STAGE, "pool_temperature", TEMPERATURE, .help = "of it at the start; without pool: water that stays at this temperature"},
    {SECTION_STAGE, "pool_film", QUANTITY(QUANTITY_FILM, RANGE_ABOVE_ZERO), .help = "between it and the ice; without it, natural flow"},
    {SECTION_STAGE, "level", HEIGHT, .help = "of that water; without it, the piece floats"},

    {SECTION_UNTIL, "part", .type = VALUE_REFERENCE, .among = AMONG_ALL, .required = true, .help = "whose mean temperature is watched"},
    {SECTION_UNTIL, "below", TEMPERATURE, .help = "ends when it has fallen to this; this or above"},
    {SECTION_UNTIL, "above", TEMPERATURE, .help = "ends when it has risen to this"},

    {SECTION_PROBE, "name", NEW_NAME, .help = "its column in the series"},
    {SECTION_PROBE, "at", .type = VALUE_POINT, .required = true, .help = "[r, z], or [x, y, z]"},

    {SECTION_GRID, "error", QUANTITY(QUANTITY_SHARE, RANGE_SHARE), .preset = "1 %", .help = "wanted error of the freeze time; the spacing follows"},
    {SECTION_GRID, "spacing", LENGTH, .help = "instead: cell size in and around the water"},

    {SECTION_MIRROR, "x", HEIGHT, .help = "the plane x = this; the side of larger x is computed, describe the whole rig all the same"},
    {SECTION_MIRROR, "y", HEIGHT, .help = "the plane y = this"},

    {SECTION_RUN, "integrator", CHOICE("stabilised|bdf"), .preset = "stabilised", .help = "bdf is the slow second opinion"},
    {SECTION_RUN, "tolerance", QUANTITY(QUANTITY_NUMBER, RANGE_ABOVE_ZERO), .help = "of a step; without it, the integrator's own"},
    {SECTION_RUN, "longest_step", QUANTITY(QUANTITY_TIME, RANGE_ABOVE_ZERO), .help = "no step is longer"},
    {SECTION_RUN, "store_every", QUANTITY(QUANTITY_TIME, RANGE_ABOVE_ZERO), .preset = "1 h", .help = "fields are stored"},
    {SECTION_RUN, "series_every", QUANTITY(QUANTITY_TIME, RANGE_ABOVE_ZERO), .preset = "5 min", .help = "a row of the series is written"},
    {SECTION_RUN, "checkpoint_every", QUANTITY(QUANTITY_TIME, RANGE_ABOVE_ZERO), .preset = "2 h", .help = "the state is saved for --resume"},
    {SECTION_RUN, "threads", QUANTITY(QUANTITY_NUMBER, RANGE_ABOVE_ZERO), .help = "without it, all; the results do not depend on it"},
};

static const char *const section_names[SECTION_NUM] = {
    [SECTION_CASE] = "the case",         [SECTION_ROOM] = "room",
    [SECTION_MAINS] = "mains",
    [SECTION_PART] = "parts[]",          [SECTION_PIECE] = "parts[].of[]",
    [SECTION_MATERIAL] = "material",
    [SECTION_BODY] = "bodies[]",         [SECTION_MOTION] = "motion",
    [SECTION_BATH] = "baths[]",          [SECTION_BAG] = "baths[].bags[]",
            [SECTION_COIL] = "coils[]",
    [SECTION_PLANT] = "plant",           [SECTION_COMPRESSOR] = "plant.compressors[]",
    [SECTION_THERMOSTAT] = "plant.thermostat", [SECTION_SURFACE] = "surfaces[]",
    [SECTION_STAGE] = "stages[]",        [SECTION_UNTIL] = "stages[].until",
    [SECTION_PROBE] = "probes[]",        [SECTION_GRID] = "grid",
    [SECTION_MIRROR] = "mirror",         [SECTION_RUN] = "run",
};

size_t case_keys_num(void)
{
  return sizeof table / sizeof *table;
}

const case_key *case_keys_at(size_t i)
{
  return &table[i];
}

const case_key *case_keys_find(case_section section, const char *key)
{
  for (size_t i = 0; i < case_keys_num(); i++)
    if (table[i].section == section && strcmp(table[i].key, key) == 0)
      return &table[i];
  return NULL;
}

const char *case_keys_section_name(case_section section)
{
  return section_names[section];
}

int case_keys_choice_index(const char *choices, const char *word)
{
  const size_t n = strlen(word);
  int index = 0;
  for (const char *p = choices; p && n > 0; index++) {
    const char *end = strchr(p, '|');
    const size_t length = end ? (size_t)(end - p) : strlen(p);
    if (length == n && strncmp(p, word, n) == 0)
      return index;
    p = end ? end + 1 : NULL;
  }
  return -1;
}

bool case_keys_is_choice(const char *choices, const char *word)
{
  return case_keys_choice_index(choices, word) >= 0;
}

/* ------------------------------------------------------------------------------------------------ help */

static void describe(const case_key *k, char *out, size_t room)
{
  switch (k->type) {
  case VALUE_QUANTITY: (void)snprintf(out, room, "%s", quantity_example(k->kind)); break;
  case VALUE_SCHEDULE: (void)snprintf(out, room, "%s, or [[time, value], ...]", quantity_example(k->kind)); break;
  case VALUE_CHOICE: (void)snprintf(out, room, "%s", k->choices); break;
  case VALUE_WORD_OR_MAP: (void)snprintf(out, room, "%s, or a map", k->choices); break;
  case VALUE_WORD_OR_QUANTITY: (void)snprintf(out, room, "%s, or %s", k->choices, quantity_example(k->kind)); break;
  case VALUE_FLAG: (void)snprintf(out, room, "yes|no"); break;
  case VALUE_NAME: (void)snprintf(out, room, "a new name"); break;
  case VALUE_REFERENCE: (void)snprintf(out, room, "a name in this file"); break;
  case VALUE_POINT: (void)snprintf(out, room, "[r, z]"); break;
  case VALUE_POINTS: (void)snprintf(out, room, "[[r, z], ...]"); break;
  case VALUE_OUTLINE: (void)snprintf(out, room, "[[x, y], ...]"); break;
  case VALUE_PATH: (void)snprintf(out, room, "[[x, y, z], ...]"); break;
  case VALUE_NUMBERS: (void)snprintf(out, room, "[ten numbers]"); break;
  case VALUE_TABLE: (void)snprintf(out, room, "[[T, k, c, share], ...]"); break;
  case VALUE_SOLID: (void)snprintf(out, room, "a solid, or a map"); break;
  case VALUE_MAP: (void)snprintf(out, room, "a map"); break;
  case VALUE_LIST: (void)snprintf(out, room, "a list"); break;
  default: (void)snprintf(out, room, "text"); break;
  }
}

bool case_keys_print(FILE *to)
{
  case_section section = SECTION_NUM;
  for (size_t i = 0; i < case_keys_num(); i++) {
    const case_key *k = &table[i];
    char form[160];
    if (k->section != section)
      (void)fprintf(to, "%s%s\n", i ? "\n" : "", case_keys_section_name(k->section));
    section = k->section;
    describe(k, form, sizeof form);
    (void)fprintf(to, "  %-24s %s%s%s%s\n", k->key, form, k->required ? "  (required)" : "", k->preset ? "  default " : "",
                  k->preset ? k->preset : "");
    (void)fprintf(to, "  %-24s   %s\n", "", k->help);
  }
  (void)fprintf(to, "\nsolids known by name\n");
  for (size_t i = 0; i < material_num_solids(); i++)
    (void)fprintf(to, "  %s\n", material_solid_name(i));
  return !ferror(to);
}
