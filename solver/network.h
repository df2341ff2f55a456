/* The discrete heat balance of a rig: nodes joined by conductances.
 *
 *   d(H V)/dt of a node = sum over its faces and entries of the heat rates into it.
 *
 * Same-part faces carry  G (u_neighbour - u),  G = area / distance times the motion factor, u the Kirchhoff potential.
 * Interfaces, films, contacts, tubes are affine entries  a u_i - b u_j + c  whose coefficients are frozen over one step by
 * network_refresh: u(T) is replaced by its tangent at the surface temperature, found anew from the state at each refresh,
 * so that a node at its freezing point beside a colder wall conducts with the conductivity of ice.
 *
 * Where a sharp front runs through a node, u(H) is that of front_node.h, found anew at each refresh too.
 *
 * The unknowns are the nodes of the mesh, followed by one unknown per wall patch: the heat of that piece of thin wall,
 * carried like a node of volume area * thickness and of the wall's own material.
 * After them come the shells round tubes (coil_shells.h), in place of the nodes near the tube: those have no volume here and no
 * faces; their enthalpy is that of the shell at their distance from the tube, so that they can be shown. Sums over a part
 * therefore run over all unknowns of that part, with network_volume.
 *
 * Thin walls. A wall of metal is far faster than the water beside it, so its temperature T_w does not march: every stage
 * solves, for all patches of the rig at once,
 *     sum over sides g (tau_side - T_w) + lateral conduction = (C / t_w) (T_w - T_E),
 * where tau_side is what the side's node or environment offers, C = c V of the patch, T_E = T(E) the temperature of its carried
 * heat E, and t_w = 2 / (spectral bound of the nodes) the relaxation time: a few seconds, below every time of interest, and
 * just slow enough that E does not set the number of stages. dE/dt is then the sum of the very fluxes that leave the sides,
 * so heat is conserved to rounding even when the solve is iterative: its remainder stays in the wall as heat. The full heat
 * capacity of the wall counts and none of it is shared to nodes. The reduced system is the Schur complement of a network
 * of resistors: symmetric in the heat inner product, real negative eigenvalues, none larger than with the walls held at fixed temperatures (network_walls.c). */
#ifndef LASTWATER_NETWORK_H
#define LASTWATER_NETWORK_H

#include "geometry/mesh.h"
#include "solver/rig.h"
#include "solver/stabilised.h"

typedef struct network network;

/* m and r are borrowed and must outlive the network. A stirred bath is one node: the lowest-numbered node of the part
 * carries the volume of all; network_node says which. Fails with STATUS_BAD_INPUT (part and place named) when a node
 * touches nothing. */
status network_create(network **out, const mesh *m, const rig *r, message *msg);
void network_destroy(network **net);

size_t network_num_nodes(const network *net);         /* unknowns: mesh num_nodes + mesh num_patches + shells      */
const double *network_volume(const network *net);     /* [num_nodes] m3 after pooling; 0: absent; a patch: its wall's */
const int32_t *network_node(const network *net);      /* [num_nodes] mesh node -> unknown (itself, or its pool)     */
double network_count(const network *net, size_t unknown); /* how many unknowns of the whole rig it stands for, over those that one without images does: 1;
                                                             behind mirror planes less for a stirred bath, which is one on both sides */
size_t network_num_parts(const network *net);
const int32_t *network_part(const network *net);      /* [num_nodes] part; MESH_VOID where absent                  */
/* Enthalpy, J/m3, of every unknown at its part's initial temperature; absent ones 0. _walls: the patches only. */
void network_initial(const network *net, double *enthalpy);
void network_initial_walls(const network *net, double *enthalpy);
/* Forgets everything that an evaluation left behind, so that the next one depends on state, time and settings alone. */
void network_restart(network *net);

/* Paths of the heat ledger: every boundary term belongs to one. "drum to room", "coil well", "floor", ... */
size_t network_num_paths(const network *net);
#define NETWORK_MOISTURE "moisture on " /* then the part's name: what a path of latent heat from moist air is called */
const char *network_path_name(const network *net, size_t path);

/* Factors >= 1 by which liquid in motion multiplies conduction; the caller may write them between steps.
 * horizontal[node] serves faces of axes 0 and 1 and walls at the side; vertical[node] serves the face above the node.
 * A face takes the larger of its two nodes' factors (vertical: the lower node's) while both hold liquid, else 1; beside a front only for what of the
 * difference is above freezing (conductance_rows.h). */
double *network_horizontal_factor(network *net);
double *network_vertical_factor(network *net);

/* Film of a stirred bath or body, W/(m2 K); at creation its motion's film_coefficient. A refresh without one is refused. */
void network_set_film(network *net, int part, double film_coefficient);
/* The film of a stirred bath on its tubes of a diameter, where it is another than on its walls; 0: it is not. */
void network_set_tube_film(network *net, int part, double diameter, double film_coefficient);
/* What holds in a stage: its surface rules; room, degC, NAN: the rig's. */
status network_use_stage(network *net, size_t stage, double room, message *msg);
/* A cavity whose water has not been poured yet: next to no heat passes its surfaces. */
void network_set_dry(network *net, int part, bool dry);

/* Ice that melts at a warm surface: that is at the freezing point while the node's mean is still below it, and later a film as deep as there is liquid in the
 * node, at first far thinner than half of it. Where this is said, heat enters so, and no node is taken for one through which a freezing front runs. */
void network_set_thawing(network *net, bool thawing);

/* Replaces the curve of a part (a bath whose strength changed); borrowed. */
void network_set_curve(network *net, int part, const phase_curve *curve);
/* The refrigerant in a coil: temperature = `temperature` (slope ignored) or, when `plant` is true, found in every
 * stage so that the heat taken by all plant coils equals intercept + slope * temperature (W, degC). */
typedef struct { bool plant; double temperature, intercept, slope; } coolant_state;
void network_set_coolant(network *net, size_t coil, coolant_state c);
double network_coolant_temperature(const network *net, size_t coil); /* of the last evaluation, degC */
double network_coil_heat(const network *net, size_t coil);           /* W taken from the rig, last evaluation */
/* Radius of the ice on a ring of tube, m: in a stirred, mixed bath of its layer, else as far as its shells reach; NAN for a ring that has
 * neither (spread, no room). */
double network_coil_ice_radius(const network *net, size_t coil, size_t ring, const double *enthalpy);

/* Stirred water. The clear nodes of a stirred body of water are one temperature T, whatever happens to each: what leaves any of them is
 * given by all. Every surface meets T behind the film of network_set_film, and so does the ice: a node of the front takes h A (T - T_f), A
 * the vector sum of its faces towards clear water, never the staircase; those faces conduct nothing else. A node joins the front when one
 * beside it is nearly ice, or when the surface it touches would be colder than freezing behind the film; its own warmth then leaves through
 * the ice, as that of water freezing does. One body is one temperature, in several pockets too. */

/* Stirred baths. A stirred bath is one node. With salt `mixed` its ice sits in layers on the tubes and walls that draw heat (network_ice.c),
 * one unknown a ring and a side of a joint: dE/dt = heat through the layer - film (T - T_l(w)) on its outer face, which is at the ice
 * line T_l of the liquid's strength w = salt / (mass - ice). The heat of the ice stays in that of the bath's one node, so the layers
 * change nothing in the books: they say how much of it is ice, T(H, ice), and resist. With no layer the whole bath's lever rule holds
 * and the ice floats. */
typedef struct {
  double temperature, ice_line; /* degC: of the liquid, and where it freezes */
  double share, floating;       /* of the bath by mass: ice in all, and what of it is not in layers */
} network_ice;
bool network_ice_at(const network *net, int part, const double *enthalpy, network_ice *out); /* false: no such bath */
typedef struct {
  double mean, thickest; /* m of ice on the tubes in such baths; mean NAN: no such tube */
  double resistance;     /* K/W of it, all tubes side by side; 0: some tube is not covered */
} network_ice_cost;
network_ice_cost network_ice_on_tubes(const network *net, const double *enthalpy);
/* Copies the layers of a bath from one state to another, both of all unknowns; from NULL: there are none. */
void network_ice_copy(const network *net, int part, const double *from, double *to);
double network_ice_on_wall(const network *net, size_t interface, const double *enthalpy); /* m, the thicker of its two sides; 0: none */
double network_ice_radius(const network *net, size_t coil, size_t ring, const double *enthalpy); /* m; NAN: no such layer */
/* The longest step over which the resistance of a layer on a wall may stay, s; INFINITY: any. */
double network_ice_step(const network *net);

/* Freezes the coefficients of all entries at a state and time (environment tables, secants, wall matrix). Until the next refresh a sharp front
 * should run less than nodes_ahead and a quarter nodes (front_cells_refresh). Returns the bound on the largest eigenvalue (1/s) that an explicit step must respect. */
status network_refresh(network *net, const double *enthalpy, double time, int nodes_ahead, double *spectral_radius, message *msg);

/* The nodes through which the front ran at the last refresh, by rising unknown (front_cells.h): where their freezing begins, where the
 * front is in their middle, where they are frozen through, J/m3. All other nodes: the levels of their curve. */
typedef struct {
  int32_t node;
  double begin, half, end;
} network_front_node;
unsigned char *network_front_memory(network *net, size_t *num); /* [num] belongs to the state: which nodes the front ran through */
size_t network_front_num(const network *net);
network_front_node network_front_at(const network *net, size_t i);
bool network_front_may_enter(const network *net, int32_t part); /* it freezes at one temperature; part < 0: no */
/* pace: nodes that the front runs per second, mean over what freezes, wherever in its nodes it stands; those that freeze from a surface, where the coefficients
 * change fastest, count twice. depth: nodes that it is from where it began, or, where that is less, from where it ends: m3 frozen, or six times those that are liquid
 * (twice as far as the middle of a ball or a cube is from its surface), over m3 of a layer one node thick along the front. The least of all parts; 0: no front. It is the
 * same for a rig and the part of it before a mirror plane. */
typedef struct { double pace, depth; } network_front_motion;
network_front_motion network_front_moves(const network *net, const double *enthalpy, const double *rate); /* at J/m3 and J/(m3 s) */
double network_front_frozen(const network *net, size_t i, double enthalpy); /* frozen share of that node, 0 .. 1 */

/* The same bound for another state with the coefficients as they are: conductivities and motion of the last refresh, slopes
 * du/dH of this state. */
double network_bound(network *net, const double *enthalpy); /* 1/s */

/* rate[node] = dH/dt, J/(m3 s); path_rate[path] = W into the system. Same bits for any number of threads.
 * No allocation, no file, no printing. */
status network_rate(network *net, const double *enthalpy, double *rate, double *path_rate, message *msg);

/* Two stages of a stabilised step in one sweep. On entry `last` holds Y_(j-1) and `next` Y_(j-2); on return `next` holds Y_j and `last`
 * Y_(j+1), by the weights of stabilised.h.
 * path_rate[0] and [1] as for network_rate, at Y_(j-1) and Y_j. Same bits for any number of threads. */
status network_stages(network *net, const stage_weights w[2], const double *start, const double *start_rate, double *last, double *next,
                      double *const path_rate[2], message *msg);

/* Solves (1 - gamma J) x = b nearly, J the Jacobian of the rate with du/dH as at the last refresh: incomplete factors of the
 * regular faces (network_precondition_set), for Krylov methods. b and x: [num_nodes], may be the same array. */
void network_precondition_set(network *net, const double *enthalpy, double gamma);
void network_precondition(const network *net, const double *b, double *x);

/* Heat stored, J: sum of H V over all unknowns, summed in fixed blocks. */
double network_stored_heat(const network *net, const double *enthalpy);
/* Temperature of a wall patch at the last evaluation, degC. */
double network_wall_temperature(const network *net, size_t patch);
/* Temperature of each part's mean, degC (mass-weighted), and enthalpy sums, J. */
double network_part_heat(const network *net, const double *enthalpy, int part);
double network_part_mean_temperature(const network *net, const double *enthalpy, int part);

/* Interfaces after the last refresh, for reports: surface temperature on side 0 of interface i, degC, and heat rate from side 0
 * to side 1 at the last evaluation, W. */
double network_surface_temperature(const network *net, size_t interface);
double network_interface_heat(const network *net, size_t interface, const double *enthalpy);

#endif
