/* What a node offers instead of its curve while a sharp freezing front runs through it: u(H).
 *
 * Derived so that the conductances, which stay those of the weak form, carry at every moment just what a plane front carries. Let
 * the front stand s nodes deep in ice of the even fall sigma of u per node (quasi-steady, as in Tacke 1985, Int. J. Numer. Meth.
 * Engng 21:543), the liquid ahead rising by sigma_l per node, and let node i with its middle at x_i offer u_f - sigma (s - x_i)
 * once the front has passed its middle, u_f + sigma_l (x_i - s) before. The heat through every face is then right, and the
 * balance of the node whose middle lies y behind the front (w before it) freezes its share f = 1 - (1 - y)^2 / 2,   0 <= y <= 1,
 * f = (1 - w)^2 / 2,   0 <= w <= 1: a node is frozen through when the front has reached the middle of the next one, which is then
 * half frozen. The heat it has by then lost beside the latent is that of the whole ice so far: sigma (y + (1 - y)^2 / 8) /
 * (du/dH_s) (to a twenty-fifth of sigma: the exact quartic is replaced by this parabola so that H can be inverted), and the
 * liquid holds sigma_l (w + (1 - w)^2 / 8) / (du/dH_l) more. Hence u(H): a root on either side, that meets the material's curve
 * in value and slope. An oblique front gives the same f with the fall along the axis for sigma.
 *
 * A front that starts at a surface finds no node behind: it reaches the middle of the first one with f = 1/2, too, but the heat
 * would come from the middle and not from the front, an eighth of the square of the node's depth too late; so surfaces are
 * brought nearer meanwhile (network_ends_meet_front), and f = (1 - 2 w) / 2 there, w <= 1/2. A node with none ahead (before a
 * mirror plane, the last of a pool) has nobody to share with: f = (1 + 2 y) / 2, y <= 1/2. Where the last water is hemmed in
 * along two axes or more (a corner of mirror planes or between nodes, a cell on an axis of revolution) the front shrinks to a
 * line or a point, and u in the middle falls with the logarithm of what is left: with a share l liquid by sigma ln(0.39 / l)
 * / 2.8, that is by 0.5, 1 and 1.5 sigma for a tenth, a fortieth and a hundred-and-seventieth. There f = 1 - (1 - y / Y)^2 / 2,
 * y <= Y. Of Y = 1, 1.5 and 2 a square bar and a disc on square cells, 6 to 24 per radius, end -0.2, -0.05 and +0.1 % off (one to
 * four parts of that by size): 1.5 is used; on an axis, of whose node three quarters lie beyond the middle, 1 (cylinders: -0.02
 * %). Stirred water stays warm until the front sweeps it, and conducts nothing to it: f = (1 + 2 y) / 2 from y = -1/2 on, u being
 * that of the ice carried on.
 *
 * Whether a node follows in which the front is not as far: one that holds a quarter of the latent heat more, or half of what is lacking to none frozen. Among nodes
 * that have not begun more enthalpy says nothing (water all at its freezing point differs by roundings, which then chose between 1 and 1/2): there a node
 * follows that lies opposite the cold, has not begun either, and to which no front comes from its other side. Beside ice or a
 * cold surface a node that has not begun counts as the last one, until a thousandth of its latent heat is gone: its end, and with it the cold that the next node is told of, are nearer so long.
 *
 * sigma is the mean over the ways out of the node, weighted by their conductances and by how much further than the node they fall
 * (a neighbour beside it says nothing, and so the image behind a mirror plane may be missing; out of a node just frozen through by the square of that, as there
 * what a neighbour beside it is colder by is left over from the step before and came out forty times as large in the next node): a neighbour D below u_f has the
 * front 1 + y from its middle, sigma = D / (1 + y); behind a surface whose half node holds the share rho of the whole resistance
 * 2 rho D / (1 + 2 rho y).
 *
 * A node after one in which the front is still w > 0 before the middle has it 1 + w from its own, so that u is there (1 + w) times the rise of
 * the liquid, and the node on its curve. From its ways out alone the rise may come out larger (water warmed from above, beside a wall where the
 * front stands still): the node would seem to have begun, hold less heat for the same u by up to a hundredth of the latent, and as the
 * next rise is found from that, swing from step to step: by 0.6 MJ/m3 in a metal pot in still brine, roundings growing twofold a step. So
 * the rise is at most u / (1 + w) there; the limit comes in over the last quarter of a node before the middle.
 *
 * The rise is that of the liquid opposite the cold. Nodes beside each other along a front that has just come to them differ by chance as much as
 * by what lies ahead, and each told the other's rise: where both were warm one rose a little, the other froze by up to a hundredth of its latent heat, and
 * the other way round in the next step (0.5 MJ/m3 at the top of an aluminium pot in still brine, a rounding in its half grew from there to 2e-4 of the
 * freezing time). What lies beside counts a twentieth, so that there is a rise where nothing lies opposite.
 * (The exact lines of inward freezing miss by 7.4 % of their limits on the average instead of 8.0.)
 *
 * Behind the front D is taken from the second node frozen through rather than from the first, at 1 + q + y from it, q the ratio of the
 * conductances (with which a fall towards a cold axis or tube is in it, too): the first has hardly had a step to forget what it had
 * left of its latent heat, and sigma stays for the next. Ice that cools as the front goes on falls more steeply behind it: with
 * V dx / alpha = St = (sigma - sigma_l) / (du/dH_s latent), u falls by sigma (x + St x^2 / 2) over x nodes, and sigma y is right in
 * the node, whose heat goes out midway to the next, for sigma = D / (n + y) / (1 + St n / 2), D being taken n nodes behind. The exact
 * lines of plane, inward and outward freezing miss by 6.5 % of their limits on the average with it, 7.5 % without, none by a tenth of its
 * limit more.
 *
 * H keeps its meaning: only the map from H to the potential changes, so heat is conserved to rounding. The lines are nowhere
 * steeper than the curve beside the plateau, so the bound on the step stands (until some hundred kelvins per node). */
#ifndef LASTWATER_FRONT_NODE_H
#define LASTWATER_FRONT_NODE_H

#include "solver/front_neighbours.h"

typedef struct {
  bool sharp;                        /* it freezes at one temperature */
  double solid, liquid, at_freezing; /* J/m3, J/m3, W/m               */
  double solid_slope, liquid_slope;  /* du/dH beside the plateau, m2/s */
} front_node_stuff;

enum { FRONT_NODE_DRY, FRONT_NODE_WET, FRONT_NODE_NEVER }; /* holds no liquid, holds some; does not freeze sharply */

/* What a node is looked at in; all is borrowed. */
typedef struct {
  const front_neighbours *beside;
  const int32_t *part;              /* [num_nodes]                                      */
  const front_node_stuff *stuff;    /* [num_parts]                                      */
  const phase_curve *const *curve;  /* [num_parts]                                      */
  const double *clear;              /* [num_parts] J/m3 of stirred water; NAN: none     */
  bool round_axis;                  /* the first cell of every row lies on an axis of revolution */
  const unsigned char *wet;         /* [num_nodes] FRONT_NODE_DRY ..                    */
  const int32_t *place;             /* [num_nodes] index in found; -1: none             */
  const heat_potential_ramp *found; /* of the levels before                             */
  const double *enthalpy, *potential, *face_conductance;
  const front_cells_surface *surface;
} front_node_scene;

/* Of which neighbours a node of the front takes its cold.
 * FRONT_NODE_FROZEN  it holds no liquid by its enthalpy, yet is less cold than a node frozen through: of much colder nodes without liquid
 * FRONT_NODE_MIXED   it holds liquid, beside a node without any or a cold surface: of those
 * FRONT_NODE_NEXT    it comes after a mixed node that is nearly through: of that one
 * FRONT_NODE_AFTER   it comes after a next one, or one that comes after that, and the liquid ahead is warm or the next one has begun to freeze: of that one. The front may come to
 *                    it within a step; by its curve it would have to lose all its warmth before its first ice, or all its latent heat before it cools (a front in water of 10 K over ice of -20 and -5 K lagged by 0.02
 *                    and 0.05 nodes at default steps, with it it leads by 0.005 and 0.01)
 * No node of a level looks at another of its own level, so their order does not count. */
typedef enum { FRONT_NODE_FROZEN, FRONT_NODE_MIXED, FRONT_NODE_NEXT, FRONT_NODE_AFTER } front_node_level;

enum { FRONT_NODE_PACK = 8 };

/* Up to FRONT_NODE_PACK nodes at once: out[num], of which node is -1 where the front does not run through. */
void front_node_find(const front_node_scene *s, front_node_level level, const int32_t *node, size_t num, heat_potential_ramp *out);
/* Water that is stirred stays warm until the front sweeps it, and no node ahead has a share: the front stands f - 1/2 nodes from
 * the middle, f = (begin - H) / (begin - end), `begin` being the clear water, and u = u_f - sigma (f - 1/2) carries what the ice
 * carries. False: the front does not run through this node. */
bool front_node_find_swept(const front_node_scene *s, front_node_level level, size_t node, heat_potential_ramp *out);
/* Rise of u per node, W/m, of the liquid ahead, the front being in the node's middle. */
double front_node_rise_ahead(const front_neighbours *beside, size_t node, const double *potential, const double *face_conductance,
                             double at_freezing);

#endif
