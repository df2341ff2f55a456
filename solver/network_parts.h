/* Inside of the network, shared by its making (network_build.c, network_joints.c, network_wells.c), its refresh (network_refresh.c and the files it
 * calls) and its use (network.c). Not for others. */
#ifndef LASTWATER_NETWORK_PARTS_H
#define LASTWATER_NETWORK_PARTS_H

#include <math.h>

#include "solver/coil_shells.h"
#include "solver/conductance_rows.h"
#include "solver/front_cells.h"
#include "solver/heat_flux.h"
#include "solver/larger.h"
#include "solver/needed_cells.h"
#include "solver/network.h"
#include "solver/surface.h"
#include "solver/wall_sides.h"
#include "solver/wall_solve.h"

enum { NETWORK_PATH_NAME = 64, NETWORK_BLOCK = 4096, NETWORK_STRANDS = 8, NETWORK_SHARES = 8, NETWORK_FRONT_SHARES = 32 };

/* What a part meets where it meets no other part. */
typedef struct {
  surface_kind kind;    /* SURFACE_FILM, SURFACE_FIXED or SURFACE_FLOOR                    */
  int32_t rule;         /* index into the rig's rules; -1: the room's film                  */
  int32_t held;         /* index of a held part; -1: none (then the rule or the room tells) */
  bool wet;             /* the open surface of a bath                                       */
  bool closed;          /* in this stage no heat passes                                     */
} surroundings;

typedef enum { JOINT_NONE, JOINT_PAIR, JOINT_OUTSIDE, JOINT_WALL } joint_kind;

/* A mesh interface and where its coefficients go. */
typedef struct {
  joint_kind kind;
  int32_t node[2];      /* unknowns; -1 where there is no node             */
  int32_t part[2];      /* of the nodes; for end 1 without a node: unused  */
  int32_t patch;        /* -1: none                                        */
  int32_t contact[2];   /* rule of the contact: [0] the only one, or that between side 0 and the wall; [1] wall and side 1 */
  bool open[2];         /* JOINT_WALL: this side exchanges heat            */
  surroundings outside; /* end 1 without a node                            */
  int32_t path;         /* of end 1 without a node, -1: none               */
  int32_t moist_path;   /* of the moisture that settles there, -1: none     */
  int32_t layer[2];     /* of ice, on the side that a stirred bath washes; -1: none */
  size_t slot[2];       /* JOINT_PAIR, JOINT_OUTSIDE: [0] in the entries; JOINT_WALL: of each side's link */
} joint;

typedef struct { int32_t i, j; double a, b, c; } pair_entry;         /* q from i to j = a u_i - b u_j + c       */
/* Moisture brings m0 + m1 Q of the heat Q that the environment gives. */
typedef struct { int32_t i, path, moist_path; double a, c, m0, m1; } outside_entry; /* q out of i = a u_i + c = -Q */
typedef struct { int32_t left, right, axis; double still, moved; } face_entry; /* q left to right = moved (u_left - u_right) */

typedef struct {        /* one ring, or one node under a spread film */
  int32_t coil;
  bool by_temperature;  /* spread film or stirred bath: driven by the node's temperature, else by u of the weighted nodes */
  int32_t shells;       /* index into rings: the tube is joined to its shells; -1: to the nodes */
  size_t first, num;    /* nodes and weights in well_node, well_weight; none with shells */
  double geometric;     /* m, when not by_temperature */
  double radius, length; /* m of the tube, where ice stands round it without shells; else 0 */
  double tube;          /* K/W between the tube's outside (or the bath) and the refrigerant, were all of it wetted */
  double dry, dry_share;/* the same, were all of it full of vapour; share of the length that is: both act side by side */
  double slope, offset, g; /* drive = slope * ubar + offset (or T of the node), q = g (drive - T_coolant) */
  size_t ring;
  double outer;         /* m2 of tube, in a stirred bath */
  double film;          /* W/(m2 K) of the bath on it; 0: as on the walls */
  int32_t layer;        /* of ice; -1: none */
} well_entry;

typedef struct {        /* a stirred bath whose ice sits in layers, as the last evaluation had it */
  int32_t part, pool;   /* pool: its unknown */
  brine_salt salt;
  double mass;          /* kg */
  double latent;        /* J per kg of ice: of the layers' unknowns */
  double depth;         /* m3 of layer per J: ice and the brine it holds */
  double conductivity;  /* W/(m K) of the layers */
  double layered, share;      /* of ice by mass: in layers, in all */
  double temperature, ice_line; /* degC: of the liquid, and where it freezes */
} ice_bath;

/* Ice on a tube or on one side of a joint. Its unknown is its latent heat over the bare surface, J/m2. */
typedef struct {
  int32_t bath, well, joint; /* well or joint is -1 */
  int side;                  /* of the joint */
  double area, radius;       /* m2; m of a tube, 0: flat */
  double film;               /* W/(m2 K) of the tube's own; 0: the bath's */
  double thickness, face;    /* m; m2 that the bath washes */
  double cover, bare, ice, wash; /* 1; W/K of what is bare, of what is covered, of the bath on the ice */
  double conductance, offered;   /* W/K, degC: bare and covered together. A joint's stay over the step */
} ice_layer;

/* One side of a thin wall, as a refresh needs it; index as in links. */
typedef struct {
  int32_t contact;      /* rule between the wall and what stands there; -1: none  */
  int32_t place;        /* 2 * interface + side                                   */
  int32_t outside;      /* index into wall_outsides where no node stands, else -1 */
  bool upright;
  double area;          /* m2                                                     */
  double reach;         /* 1/m, distance / area of the node                       */
  double wall_reach;    /* 1/m, half the thickness over the area half way into it */
} wall_place;

/* Where a thin wall meets surroundings, as the last refresh found them. */
typedef struct {
  int32_t part, contact; /* of the wall; rule between the two, -1: none            */
  surroundings meets;
  double temperature, reach, conductivity; /* degC, K/W of 1 m2, W/(m K) of the wall; NAN at first */
  bool fixed;            /* sides do not depend on the temperature of the wall     */
  bool still;            /* and are what they were at the refresh before           */
} wall_outside;

/* A part that thin walls stand before, as the last refresh found it. */
typedef struct {
  bool plain; /* surface_plain_balance holds for it */
  surface_plain stuff;
} wall_before;

typedef struct { int32_t a, b; double conductance; } mix_face; /* m */

typedef struct network_skew network_skew;

/* What the depth of the front in one part is found from: m3/s2, m3/s (all, and what is swept of it) and m3 of its nodes; `more`: frozen beyond what the
 * enthalpies of nodes say. */
typedef struct { double square, sum, swept, more, dry, all; } front_depth_sums;

struct network {
  const mesh *mesh;
  const rig *rig;
  size_t num_nodes, num_patches, num_shells, num_unknowns; /* unknowns: nodes, patches, shells */
  const phase_curve **curve;  /* [num_parts] */
  double *volume, *inverse_volume; /* [num_unknowns] */
  int32_t *unknown, *part;    /* [num_unknowns] */
  bool *pooled;               /* [num_parts] stirred bath */
  bool *dry;                  /* [num_parts] a cavity without water: next to nothing passes its surfaces */
  size_t stage;               /* index of the stage whose rules hold */
  double stage_room;          /* degC of the room in this stage; NAN: the rig's */
  double *film;               /* [num_parts] W/(m2 K), stirred baths */
  double *horizontal, *vertical; /* [num_unknowns] motion factors */

  heat_potential_run *runs;   /* begin and end only */
  size_t num_runs;
  int32_t *run_part;          /* [num_runs] */
  heat_potential_run *potential_runs; /* absent nodes thrown in */
  size_t num_potential_runs;
  int32_t *potential_run_part; /* [num_potential_runs] */
  conductance_rows *rows;
  double *potential_memory, *potential; /* the second points LANES into the first */

  face_entry *faces;      size_t num_faces;
  front_cells *front;
  double *face_moved;     /* [num_faces, then the mesh's mirror faces] m, faces[].moved as a plain array */
  front_cells_surface *front_surface; /* [2 * mesh num_interfaces] by interface and side */
  double *front_nearer;   /* [2 * mesh num_interfaces] by interface and side: network_ends_meet_front at the last refresh, 1: not nearer */
  network_skew *skew;
  joint *joints;          /* [mesh num_interfaces] */
  pair_entry *pairs;      size_t num_pairs;
  outside_entry *outsides; size_t num_outsides;
  wall_link *links;       size_t num_links;
  wall_place *wall_places;  /* [num_links] */
  wall_outside *wall_outsides; size_t num_wall_outsides; /* room for one a link */
  wall_before *wall_befores; /* [num_parts] */
  bool *unsettled;        /* [num_patches] work of a refresh */
  double *surface;        /* [mesh num_interfaces] degC on side 0 at the last refresh */

  wall_solve *walls;
  wall_sides *sides;      /* the links, packed at every refresh */
  double *wall_temperature, *wall_right, *wall_diagonal, *wall_heat; /* [num_patches] */
  double *wall_own, *wall_relax; /* [num_patches] T of the carried heat, degC; C / t_w, W/K */
  double *lateral;        /* [mesh num_patch_links] W/K */
  double *to_image;       /* [num_patches] W/K, over mirror planes */

  well_entry *wells;      size_t num_wells;
  int32_t *well_node;     double *well_weight, *well_portion; size_t num_well_nodes; /* portion: of the node's ice that is this well's */
  coil_shells *rings;     size_t num_rings; /* rings of tube that have shells */
  double shell_lag;       /* s, since the last refresh */
  double *shell_factor;   /* work for the faces of one ring's cleared cells */
  bool cross_moving;      /* `cross` of the rings is that of liquid in motion */
  int32_t *mix_clear;     /* [num_mix] work: the clear ones */
  int32_t *mix_node;      size_t num_mix; /* nodes of stirred water, body by body; the arrays are there when there are any */
  unsigned char *mix_state; /* [num_unknowns] 0: no stirred water; else MIX_CLEAR, MIX_FRONT or MIX_ICE */
  double *mix_film, *mix_area; /* [num_unknowns] m, conductance of the film on its ice; [3 * num_unknowns] m2 */
  int32_t *mix_behind;    /* [num_unknowns] of a node of the front: that nearly ice beside it; -1: none */
  double *mix_before, *mix_temperature; /* [num_mix] targets before the entries; [num_parts] degC of the clear water */
  mix_face *mix_face;     size_t num_mix_faces; /* between clear water and the front */
  bool mix_begun;         /* network_mix_has_begun */
  double mix_rate;        /* 1/s at which clear nodes move to their mean */
  ice_layer *layers;      size_t num_layers, room_for_layers, first_layer; /* first_layer: unknown */
  ice_bath *ice_baths;    size_t num_ice_baths;
  coolant_state *coolant; /* [num_coils] */
  double *coolant_temperature, *coil_heat; /* [num_coils] */
  size_t first_coil_path;

  char (*path_name)[NETWORK_PATH_NAME];
  size_t num_paths;

  bool *liquid;           /* [num_unknowns] at the last refresh with motion */
  double *warmth;         /* [num_unknowns] W/m, u less u at freezing, with what the front offers; NAN where that is not sharp; at the last refresh with motion */
  bool moving;            /* factors are not all 1 */
  bool thawing;           /* water melts at warm surfaces */
  double *still_sum, *sum, *entry_still, *entry_sum; /* [num_unknowns] sums of conductances, m */
  double *steepest, *steepest_moving; /* [num_parts] */
  double *still_most;     /* [num_parts] largest still_sum / V of a part, 1/m2 */
  double *most, *most_moving, *most_icing; /* [num_parts] the same with entries: at rest, moving as liquid, moving yet freezing */
  int32_t *entry_node;    /* unknowns that entries reach, rising: cells of the grid first */
  size_t num_entry_nodes, num_entry_cells;
  needed_cells entry_cells;
  double *gain;           /* [num_unknowns] of the entries, in the first of two stages: entry cells and what is no cell */
  double *near, *near_gain; /* [num_entry_cells] potential and gain of the entry cells side by side; they lie behind potential and gain */
  double *low, *high;     /* [NETWORK_SHARES * num_parts * NETWORK_STRANDS] enthalpies, in strands, of shares of the runs */
  front_depth_sums *front_depth; /* [NETWORK_FRONT_SHARES * num_parts] work of network_front_moves */
  double *low_moving, *high_moving; /* [num_parts] enthalpies of what moves as liquid */
  double *slope, *pivot;  /* [num_unknowns] of the preconditioner, made when first set */
  double gamma;
};

/* Fills everything that stays: called once by network_create on a zeroed struct with mesh and rig set. */
status network_build(network *net, message *msg);
static inline status network_no_memory(message *msg, size_t num, const char *what)
{
  return message_set(msg, STATUS_NO_MEMORY, "out of memory for %zu %s", num, what);
}

static inline const char *network_part_name(const network *net, int32_t part)
{
  return part >= 0 ? net->rig->parts[part].name : "the room";
}

/* network_joints.c */
status network_joints_make(network *net, message *msg);
/* Surfaces meet what the rules of a stage say. */
status network_joints_use_stage(network *net, size_t stage, message *msg);
/* The path of that name, made when it is new. path_name has room for two per interface and one per coil. */
int32_t network_joints_path(network *net, const char *format, const char *what);

/* network_wells.c: after the joints. */
status network_wells_make(network *net, message *msg);
/* Finds the rings of tube that get shells (rings, num_rings, num_shells), the first shell being unknown `first`. */
status network_rings(network *net, size_t first, message *msg);

/* Value of a schedule, or `otherwise` when it is not given. */
static inline double network_value(const schedule *s, double time, double otherwise)
{
  return s->num > 0 ? schedule_at(s, time) : otherwise;
}

/* network_ends.c: _at is a node before a surface of that area, reach = distance / area, 1/m, upright or level, with that layer of ice or -1 */
surface_end network_ends_at(const network *net, size_t node, double area, double reach, bool upright, int32_t layer, const double *enthalpy);
bool network_ends_upright(const mesh_interface *f);
surface_end network_ends_node(const network *net, const joint *j, int s, const double *enthalpy);
/* While a node freezes from this surface (the other side is colder than its freezing point) and the front is not yet in its middle, heat
 * goes from the front and not from the middle: the end is brought nearer. place: 2 * interface + side. */
void network_ends_meet_front(network *net, size_t place, size_t node, const double *enthalpy, double other_temperature, surface_end *end);
/* With the temperature of the surface that comes of it the front may be seen to be in the middle already: then the end is as it was. */
bool network_ends_leave_front(network *net, size_t place, size_t node, const double *enthalpy, double surface_temperature, surface_end *end);
surface_end network_ends_outside(const network *net, const surroundings *s, double area, double time, moist_air_room *air);
double network_ends_contact(const network *net, int32_t rule, double area, double time);

/* network_walls.c: _build fills wall_places and wall_outsides, for the stage at hand; _own is the temperature of the carried heat; _find fills wall_temperature from potential and carried heat */
double network_walls_own(const network *net, size_t patch, const double *enthalpy);
void network_walls_build(network *net);
void network_walls_refresh_sides(network *net, const double *enthalpy, double time);
void network_walls_show_front(const network *net, front_cells_surface *surface); /* [2 * interface + side] */
void network_motion_show_front(const network *net, front_cells_surface *surface); /* [2 * interface + side] */
void network_motion_meet_front(network *net, const double *enthalpy); /* the factors of faces beside the front just found */
bool network_motion_offers_ice(const network *net, int32_t node);                /* a front has passed its middle; after network_motion_meet_front */
double network_motion_beside_front(const network *net, const face_entry *f);     /* the factor of the face as it was met there */
status network_walls_refresh(network *net, const double *enthalpy, double time, double lag, message *msg);
status network_walls_make_sides(network *net, message *msg);
status network_walls_find(network *net, const double *enthalpy, message *msg);
void network_walls_sum(network *net);

/* network_coils.c: _find fills coolant_temperature and the shells a lag ahead */
/* W/K through the tube and `outside`, K/W, of all its length. */
double network_coils_through(const well_entry *w, double outside);
double network_coils_drive(const network *net, const well_entry *w, const double *enthalpy);
void network_coils_find(network *net, const double *enthalpy);
void network_coils_refresh(network *net, const double *enthalpy);
void network_coils_sum(network *net, const double *enthalpy);
status network_coils_refresh_shells(network *net, const double *enthalpy, message *msg);
void network_coils_sum_shells(network *net);

/* network_tube_ice.c: what stands between a tube without shells and its nodes */
typedef struct {
  double reach;   /* 1/m, from the tube's outside                                                        */
  bool ring;      /* a ring of ice whose outside is at the freezing point; else the nodes' mean drives      */
  double outside; /* W/m, the potential there                                                           */
} tube_ice;
status network_tube_ice_make(network *net, message *msg);
tube_ice network_tube_ice_at(const network *net, const well_entry *w, const double *enthalpy);
void network_tube_ice_films(network *net, const double *enthalpy); /* of network_mix */

/* network_ice.c: _count before anything is allocated, _make after joints and wells; _find at every evaluation, after the potentials;
 * _grow adds to the rates of the layers; _bound in 1/s, _step in s, of the last evaluation. */
void network_ice_count(network *net);
status network_ice_make(network *net, message *msg);
void network_ice_refresh(network *net, const double *enthalpy);
void network_ice_find(network *net, const double *enthalpy);
void network_ice_grow(const network *net, double scale, double *target);
double network_ice_bound(const network *net);

/* network_mix.c: _refresh before the joints, _settle after all of them: the bound with what it adds */
enum { MIX_CLEAR = 1, MIX_FRONT = 2, MIX_ICE = 3 };
status network_mix_make(network *net, message *msg);
void network_mix_refresh(network *net, const double *enthalpy);
bool network_mix_freezes(network *net, int32_t node, double surface);
bool network_mix_has_begun(network *net); /* ice in some node, since it was asked last: surfaces of that node that were asked before are to be asked anew */
size_t network_mix_list_clear(network *net); /* fills mix_clear, gives their number */
double network_mix_settle(network *net, const double *enthalpy, double bound);
void network_mix_begin(network *net, const double *enthalpy, double scale, double *target); /* before the entries are added */
void network_mix_end(const network *net, const double *enthalpy, double scale, double *target);   /* after them */

/* network_skew.c: _refresh after the front, from potentials and front_surface; _nodes: rising, owned by the network */
status network_skew_make(network *net, message *msg);
void network_skew_destroy(network_skew **skew); /* NULL-safe */
const int32_t *network_skew_nodes(const network *net, size_t *num);
void network_skew_refresh(network *net, const double *enthalpy);
void network_skew_add(const network *net, double scale, double *target);

/* network_motion.c */
double network_motion_face(const network *net, const face_entry *f);
double network_motion_to_image(const network *net, const mesh_mirror_face *f);
void network_motion_sum_images(const network *net, double *sum); /* [num_unknowns] */
status network_motion_refresh(network *net, const double *enthalpy, message *msg);

/* network_bound.c: _sums reads the sums of conductances, _steepest the state, the others what these found; _all includes the shells */
void network_bound_sums(network *net, const double *enthalpy);
void network_bound_steepest(network *net, const double *enthalpy);
double network_bound_nodes(const network *net);
double network_bound_all(const network *net);
double network_bound_wall_lag(double bound);                     /* s */
double network_bound_shell_lag(const network *net, double bound); /* s */

static inline heat_potential_nodes network_potential_nodes(const network *net)
{
  heat_potential_nodes nodes = {.num = net->num_nodes, .num_runs = net->num_potential_runs, .runs = net->potential_runs, .needed = net->entry_node,
                           .num_needed = net->num_entry_cells};
  nodes.front = front_cells_front(net->front);
  return nodes;
}

/* Of what an entry cell has by node, side by side, what walls read. */
static inline void network_bring_near(const network *net, const double *by_node, double *near)
{
  for (size_t n = 0; n < net->num_entry_cells; n++)
    near[n] = by_node[net->entry_node[n]];
}

static inline double network_node_temperature(const network *net, size_t unknown, const double *enthalpy)
{
  const phase_curve *c = net->curve[net->part[unknown]];
  if (!c->three_lines)
    return phase_curve_temperature(c, enthalpy[unknown]);
  const double below = enthalpy[unknown] - c->solid_enthalpy, above = enthalpy[unknown] - c->liquid_enthalpy;
  return c->freezing_temperature + c->solid_temperature_slope * (below < 0.0 ? below : 0.0) +
         c->liquid_temperature_slope * (above > 0.0 ? above : 0.0);
}

static inline bool network_holds_liquid(const network *net, size_t unknown, const double *enthalpy)
{
  return enthalpy[unknown] > net->curve[net->part[unknown]]->solid_enthalpy;
}

/* Upper bound of what a conductance in series with a half cell can be, in potential units, for the node at rest. */
static inline void network_add_to_sums(network *net, size_t node, double conductance, double half_cell)
{
  net->entry_sum[node] += conductance;
  net->entry_still[node] += conductance < half_cell ? conductance : half_cell;
}

static inline bool network_is_clear(const network *net, int32_t node)
{
  return net->num_mix > 0 && net->mix_state[node] == MIX_CLEAR;
}

static inline double network_half_cell(const network *net, const joint *j, int s)
{
  const mesh_interface *f = &net->mesh->interfaces[j - net->joints];
  return network_is_clear(net, j->node[s]) || net->pooled[net->part[j->node[s]]] ? INFINITY : 1.0 / mesh_reach(net->mesh, f, s);
}

#endif
