/* The discrete heat balance of a rig: nodes joined by conductances.
 *
 *   d(H V)/dt of a node = sum over its faces and entries of the heat rates into it.
 *
 * Same-part faces carry  G (u_neighbour - u),  G = area / distance times the motion factor, u the Kirchhoff potential.
 * Interfaces, films, contacts, thin walls, tubes are affine entries  a u_i - b u_j + c  whose coefficients are frozen
 * over one step by network_refresh (secant of u(T) about the last surface temperature).
 * Thin walls: through-wall resistance inside the entries; temperatures of conducting walls come from one small banded
 * (GRID_RZ) or PCG (GRID_XYZ) solve per stage through SUNDIALS, their heat capacity is shared to the nodes on both sides. */
#ifndef LASTWATER_NETWORK_H
#define LASTWATER_NETWORK_H

#include "geometry/mesh.h"
#include "solver/rig.h"

typedef struct network network;

/* m and r are borrowed and must outlive the network. A stirred bath is one node: the lowest-numbered node of the part
 * carries the volume of all; network_node says which. Fails with STATUS_BAD_INPUT (part and place named) when a node
 * touches nothing. */
status network_create(network **out, const mesh *m, const rig *r, message *msg);
void network_destroy(network **net);

size_t network_num_nodes(const network *net);         /* == mesh num_nodes                                        */
const double *network_volume(const network *net);     /* [num_nodes] m3 after pooling; 0: absent                  */
const int32_t *network_node(const network *net);      /* [num_nodes] mesh node -> network node (itself, or its pool) */
double network_heat_capacity_extra(const network *net, size_t node); /* J/K of eliminated wall carried by a node       */

/* Paths of the heat ledger: every boundary term belongs to one. "drum to room", "coil well", "floor", ... */
size_t network_num_paths(const network *net);
const char *network_path_name(const network *net, size_t path);

/* Factors >= 1 by which liquid in motion multiplies conduction; the caller may write them between steps.
 * horizontal[node] serves faces of axes 0 and 1 and walls at the side; vertical[node] serves the face above the node.
 * A face takes the larger of its two nodes' factors (vertical: the lower node's) while both hold liquid, else 1. */
double *network_horizontal_factor(network *net);
double *network_vertical_factor(network *net);

/* Replaces the curve of a part (a bath whose strength changed); borrowed. */
void network_set_curve(network *net, int part, const phase_curve *curve);
/* The refrigerant in a coil: temperature = `temperature` (slope ignored) or, when `plant` is true, found in every
 * stage so that the heat taken by all plant coils equals intercept + slope * temperature (W, degC). */
typedef struct { bool plant; double temperature, intercept, slope; } coolant_state;
void network_set_coolant(network *net, size_t coil, coolant_state c);
double network_coolant_temperature(const network *net, size_t coil); /* of the last evaluation, degC */
double network_coil_heat(const network *net, size_t coil);           /* W taken from the rig, last evaluation */

/* Freezes the coefficients of all entries at a state and time (environment tables, secants, wall matrix).
 * Returns the bound on the largest eigenvalue (1/s) that an explicit step must respect. */
status network_refresh(network *net, const double *enthalpy, double time, double *spectral_radius, message *msg);

/* rate[node] = dH/dt, J/(m3 s); path_rate[path] = W into the system. Same bits for any number of threads.
 * No allocation, no file, no printing. */
status network_rate(network *net, const double *enthalpy, double *rate, double *path_rate, message *msg);

/* Temperature of each part's mean, degC (mass-weighted), and enthalpy sums, J. */
double network_part_heat(const network *net, const double *enthalpy, int part);
double network_part_mean_temperature(const network *net, const double *enthalpy, int part);

/* Interfaces after the last refresh, for reports: surface temperature on side 0 of interface i, degC, and heat rate from side 0
 * to side 1 at the last evaluation, W. */
double network_surface_temperature(const network *net, size_t interface);
double network_interface_heat(const network *net, size_t interface, const double *enthalpy);

#endif
