/* A case file, read and resolved into the rig that the solver takes.
 *
 * A case_file owns everything its rig points to. Beside the rig it keeps what was understood on the way (vessels, levels, coils), for
 * `check`, the pictures and the summary. SI units, temperatures in degC. */
#ifndef LASTWATER_CASE_FILE_H
#define LASTWATER_CASE_FILE_H

#include "geometry/shape_placed.h"
#include "geometry/triangle_flats.h"
#include "io/case_store.h"
#include "io/case_wall.h"
#include "io/fault.h"
#include "io/text_hash.h"
#include "io/yaml_tree.h"
#include "solver/rig.h"

typedef struct {            /* a part as listed */
  char name[RIG_NAME];
  const yaml_node *item;
  bool sound;               /* nothing is wrong with it                                            */
  const shape *region;      /* what it covers: a vessel's wall and floor                           */
  const shape *hollow;      /* vessels and layers: the innermost hollow; else NULL                 */
  const shape *outer;       /* wall and hollow together up to the rim; of a solid its region       */
  const shape *own;         /* hollow (of a solid: itself) in the frame in which it was written    */
  double own_rim;           /* m, its top there                                                    */
  bool placed;              /* the frame turns or moves it                                         */
  shape_placed_frame frame; /* from there into the rig                                             */
  shape_placed_kind posture;
  const char *kind;         /* "cylinder", ...: the shape as written; of a layer that of what it lies round */
  case_wall_depth around;   /* everything around the hollow, this part included                    */
  const shape *cavity;      /* walls: the surface that this part grows out from                    */
  bool is_vessel;           /* has its own hollow (not a layer round another)                      */
  bool open_top;
  double wall;              /* m, 0 for a solid                                                    */
  double wall_floor;        /* m, thickness of its floor; the same as the wall unless said         */
  double floor, rim;        /* m, lowest and highest point of the hollow (of a solid: of itself)   */
  double drawn_wall;        /* m, thickness of the walls of a vessel that is drawn with them, when it is much the same all round; else 0 */
  double mean_wall;         /* m, of a vessel that is drawn with its walls; else 0                    */
  triangle_flat flats[3][TRIANGLE_FLATS_MOST]; /* of triangles: flat faces of the hollow (of a solid: of itself) square to the axes */
  size_t num_flats[3];
  const char *solid;        /* name of its material in the table of solids, or NULL                */
  int rig_part;             /* index into rig.parts, -1                                            */
  const char *file;         /* of triangles: where it was read, in the store; else NULL            */
  char file_name[RIG_NAME + 16]; /* what its copy beside the results is called                      */
  char file_hash[TEXT_HASH];     /* of its bytes                                                    */
} case_part;

typedef struct {            /* a body of water or a bath */
  char name[RIG_NAME];
  const yaml_node *item;
  bool sound;
  size_t vessel;            /* index into case_file.parts                                          */
  double volume;            /* m3 of liquid as poured                                              */
  double mass;              /* kg                                                                  */
  double level;             /* m, z of the liquid surface as poured                                */
  double frozen_level;      /* m, bodies: of the ice; baths: the same as level                     */
  double capacity;          /* m3 up to the rim, with what stands inside                           */
  double expelled;          /* m3 of ice that finds no room                                        */
  double lid_contact;       /* m2 K/W of the air between its ice and a lid, too thin to be a part; 0: none */
  double temperature;       /* degC at the start                                                   */
  int rig_part;
} case_liquid;

typedef struct {
  char name[RIG_NAME];
  const yaml_node *item;
  bool sound;
  double radius, z, length, turns, pitch, height; /* m, turns as asked                            */
  double clearance;         /* m, smallest free distance from the tube to a vessel's wall or solid  */
  char nearest[RIG_NAME];   /* to which part                                                       */
  const char *solid;
} case_coil;

typedef struct case_file {
  rig rig;
  char *path;               /* as given, owned                                                     */
  yaml_node *tree;          /* owned, with the overrides                                            */
  char **overrides;         /* [num_overrides] owned, as given                                      */
  size_t num_overrides;
  case_store *store;
  bool revolved;
  size_t num_parts;
  case_part *parts;
  case_liquid *bodies, *baths; /* [rig.num_bodies], [rig.num_baths]                                */
  case_coil *coils;            /* [rig.num_coils]                                                  */
  double spacing;              /* m, of the grid in and around the water                           */
  double wanted_error;         /* share of the freeze time; NAN when a spacing was asked            */
  char *notes;                 /* cautions about the input, one a line; "" without; owned           */
} case_file;

/* Reads a case. overrides: `key.path=value` texts of the command line. STATUS_BAD_INPUT: *faults holds all faults as lines
 * (allocated, free() it), and msg says how many; else *faults is NULL. *out is untouched unless STATUS_OK. */
status case_file_read(case_file **out, const char *path, const char *const *overrides, size_t num_overrides, char **faults,
                      message *msg);
/* The same from text in memory; path is used in messages only. */
status case_file_parse(case_file **out, const char *path, const char *text, size_t length, const char *const *overrides,
                       size_t num_overrides, char **faults, message *msg);
void case_file_destroy(case_file **c); /* NULL-safe */

/* The case as a file with every default written out; it reruns to the same bits. *text is allocated, free() it. */
status case_file_resolved(const case_file *c, char **text, message *msg);

#endif
