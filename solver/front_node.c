#include "solver/front_node.h"

#include <math.h>

#include "solver/larger.h"

/* A node of which this share more is liquid stands ahead: it is half between the least that the next node of a front has, a half,
 * and that of a node beside, none. */
static const double AHEAD = 0.25;
/* A node that has lost less of its latent heat than this has not begun to freeze. */
static const double NOT_BEGUN = 1e-3;
/* More of the cold than this comes over no regular face: liquid may follow on any side. */
static const double UNKNOWN = 0.25;
/* Hemmed in: of the cold that comes from one side only, this share comes along other axes than the one of most. None of it does
 * before a plane front along the grid, half in a corner. */
static const double HEMMED = 0.25;
/* Behind a node of the front u falls on from the next node to the one beyond by a half to the whole of what it fell so far, per node; where
 * it falls by less than this share (beside a plane of symmetry not at all) the cold comes along other axes too, and less of it is used. */
static const double ALONG = 0.25;
static const double ROUNDING = 1e-6; /* of the latent heat */
/* Nodes before the middle of the last one over which the front begins to have to do with the next (front_node.h). */
static const double NEARLY_THERE = 0.25;
/* Nodes beyond the middle at which the last water is gone (front_node.h). */
static const double ONTO_PLANE = 0.5, ONTO_AXIS = 1.0, INTO_CORNER = 1.5;

/* What the liquid beside a node of the front says about the rise ahead, of what it says opposite the cold (front_node.h). */
static const double BESIDE = 0.05;

enum { SIDES = FRONT_NEIGHBOURS_SIDES };

/* Sums over the ways out of a node on one side of the front: conductances, and with them the fall of u over one node while the
 * front is in mid-node, and what is added to that node's depth as the front moves on from there by one. */
typedef struct {
  double weight, fall, depth, surface; /* surface: of the weights, those of surfaces */
  double base;                         /* of the weights, times how many nodes behind u was taken */
} mean;

static void take_way(mean *m, double weight, double fall, double depth)
{
  m->weight += weight;
  m->fall += weight * fall;
  m->depth += weight * depth;
}

/* With the front so many nodes away from the node's middle. */
static double fall_of(const mean *m, double away)
{
  return m->weight > 0.0 ? m->fall / (m->weight + m->depth * away) : 0.0;
}

/* How cold a neighbour is when the front has reached the middle of the next; 0: none was found there. */
static inline double cold_when_through(const front_node_scene *s, size_t node)
{
  const int32_t place = s->place[node];
  return place >= 0 ? s->found[place].ice : 0.0;
}

static double cold_of(const front_node_scene *s, front_node_level level, const front_neighbours_walk *w, double drop,
                      double own_drop)
{
  switch (level) {
  case FRONT_NODE_FROZEN:
    return s->wet[w->other] == FRONT_NODE_DRY && drop > own_drop ? drop : 0.0;
  case FRONT_NODE_MIXED:
    return s->wet[w->other] == FRONT_NODE_DRY ? larger(drop, cold_when_through(s, w->other)) : 0.0;
  case FRONT_NODE_NEXT:
  case FRONT_NODE_AFTER:
    return cold_when_through(s, w->other);
  }
  return 0.0;
}

/* A way to a neighbour that is frozen through: u is taken from the node beyond it. */
static void take_frozen_way(mean *m, const front_node_scene *s, const front_neighbours_walk *w, double weight, double drop, double at_freezing)
{
  const double next = w->side >= 0 ? front_neighbours_over(s->beside, w->other, w->side) : 0.0;
  const size_t beyond = next > 0.0 ? front_neighbours_on(s->beside, w->other, w->side) : w->other;
  double base = 1.0;
  if (next > 0.0 && s->wet[beyond] == FRONT_NODE_DRY && s->part[beyond] == s->part[w->other]) {
    const double apart = w->conductance / next, rise = at_freezing - s->potential[beyond] - drop, along = rise / (apart * drop);
    const double share = along > ALONG ? 1.0 : larger(along / ALONG, 0.0);
    drop += share * rise;
    base += share * apart;
  }
  take_way(m, weight, drop / base, 1.0 / base);
  m->base += weight * base;
}

/* How u falls towards the cold and rises into the liquid around a node of the front. */
typedef struct {
  mean ice, water;
  double side[SIDES]; /* weight of the cold over the regular faces, down and up each axis */
  double before;  /* nodes that the front is before the middle of the next node towards the cold; 0: it has passed one, or that is not known */
  bool ahead;     /* a node follows in which the front is not as far */
} front_ways;

/* The liquid over a regular face: its u above freezing, and the weight of it. */
typedef struct {
  int side;
  double rise, weight;
} warm_way;

/* Liquid counts by the share of the cold that comes from opposite to it, or from where no side is known (surfaces, further faces). */
static void take_warm_ways(front_ways *around, const warm_way *warm, int num)
{
  const double all = around->ice.weight;
  double unknown = all;
  for (int side = 0; side < SIDES; side++)
    unknown -= around->side[side];
  for (int i = 0; i < num && all > 0.0; i++) {
    const double opposite = (around->side[warm[i].side ^ 1] + larger(unknown, 0.0)) / all;
    take_way(&around->water, warm[i].weight * (BESIDE + (1.0 - BESIDE) * smaller(opposite, 1.0)), warm[i].rise, 1.0);
  }
}

/* True: a surface warms the node, whose ice melts. One that cools counts by how far u falls over a node, one that warms by the heat that comes through it, as
 * liquid beside the node does: warm air counts for little by the former, and what nodes beside each other along the front happened to be told each other then
 * moved them by a tenth of their latent heat, to and fro from step to step (the last layer of a pot under air at 10 degC). */
static bool take_surfaces(front_ways *around, const front_node_scene *s, size_t node)
{
  const double at_freezing = s->stuff[s->part[node]].at_freezing;
  bool warmed = false;
  for (uint32_t i = s->beside->surface_start[node]; i < s->beside->surface_start[node + 1]; i++) {
    const front_cells_surface *face = &s->surface[s->beside->surface_of[i]];
    if (!(face->conductance > 0.0))
      continue;
    const double drop = face->heat / face->conductance + at_freezing, depth = 2.0 * face->conductance / face->half;
    const double weight = face->conductance * fabs(drop) * (drop > 0.0 ? depth : 1.0);
    take_way(drop > 0.0 ? &around->ice : &around->water, weight, depth * fabs(drop), depth);
    around->ice.surface += drop > 0.0 ? weight : 0.0;
    warmed = warmed || drop < 0.0;
  }
  return warmed;
}

/* Nodes that the front is before the middle of a node found at a level before; 0: it has passed it. */
static double before_middle_of(const front_node_scene *s, size_t node)
{
  const heat_potential_ramp *r = &s->found[s->place[node]];
  const double h = s->enthalpy[node];
  if (h <= r->half || !(r->water > 0.0))
    return 0.0;
  return ((h >= r->begin ? s->potential[node] : heat_potential_ramp_at(r, h)) - r->middle) / r->water;
}

/* Whether a front comes to the neighbour on a side from its other side too. */
static bool is_met(const front_node_scene *s, size_t node, int side)
{
  const size_t other = front_neighbours_on(s->beside, node, side), beyond = front_neighbours_on(s->beside, other, side);
  return front_neighbours_over(s->beside, other, side) > 0.0 && (s->wet[beyond] == FRONT_NODE_DRY || s->place[beyond] >= 0);
}

/* Whether liquid follows a node that has not begun: opposite its cold, or anywhere where not all of that comes over regular faces. waiting[side]: there
 * lies a node that has not begun and no front is at; [SIDES]: over a further face. */
static bool follows(const front_node_scene *s, size_t node, const front_ways *around, const bool waiting[SIDES + 1])
{
  double known = 0.0;
  for (int side = 0; side < SIDES; side++)
    known += around->side[side];
  const bool anywhere = around->ice.weight - known > UNKNOWN * around->ice.weight;
  for (int side = 0; side < SIDES; side++)
    if (waiting[side] && (anywhere || around->side[side ^ 1] > 0.0) && !is_met(s, node, side))
      return true;
  return waiting[SIDES] && anywhere;
}

/* How much further than the node its coldest neighbour without liquid falls. *w: at the first neighbour, as it is afterwards. */
static double most_further(const front_node_scene *s, front_neighbours_walk *w, double own_drop)
{
  const double at_freezing = s->stuff[s->part[w->node]].at_freezing;
  double most = 0.0;
  while (front_neighbours_step(w))
    if (s->wet[w->other] == FRONT_NODE_DRY)
      most = larger(most, at_freezing - s->potential[w->other] - own_drop);
  front_neighbours_again(w);
  return most;
}

/* Fills *out in place: handed back as a value it was copied. */
static void look_around(const front_node_scene *s, front_node_level level, size_t node, front_ways *out)
{
  const front_node_stuff *stuff = &s->stuff[s->part[node]];
  const double further = s->enthalpy[node] + smaller(AHEAD * (stuff->liquid - stuff->solid), 0.5 * larger(stuff->liquid - s->enthalpy[node], 0.0));
  const double at_freezing = s->stuff[s->part[node]].at_freezing, own = at_freezing - s->potential[node];
  const double not_begun = stuff->liquid - NOT_BEGUN * (stuff->liquid - stuff->solid);
  const bool waits = s->enthalpy[node] >= not_begun; /* among such nodes more enthalpy says nothing: it may be a rounding. Beside ice or a cold surface such a node counts as the last (front_node.h) */
  bool waiting[SIDES + 1] = {false};
  *out = (front_ways){.before = level < FRONT_NODE_NEXT ? 0.0 : INFINITY, .ahead = false};
  const bool warmed = take_surfaces(out, s, node);
  /* Such ways count by the square of their fall, over the largest (front_node.h): nodes beside each other that just froze through differ by little. */
  front_neighbours_walk w;
  front_neighbours_begin(&w, s->beside, s->face_conductance, node);
  const double most = level == FRONT_NODE_FROZEN ? most_further(s, &w, larger(own, 0.0)) : 0.0;
  warm_way warm[SIDES];
  int num_warm = 0;
  while (front_neighbours_step(&w)) {
    const double drop = at_freezing - s->potential[w.other], cold = cold_of(s, level, &w, drop, own);
    if (cold > 0.0) {
      const double further_down = cold - (own > 0.0 ? own : 0.0), weight = w.conductance * further_down * (most > 0.0 ? further_down / most : 1.0);
      if (level == FRONT_NODE_MIXED && s->place[w.other] < 0 && !warmed)
        take_frozen_way(&out->ice, s, &w, weight, drop, at_freezing);
      else
        take_way(&out->ice, weight, cold, 1.0);
      if (w.side >= 0)
        out->side[w.side] += weight;
      if (level >= FRONT_NODE_NEXT)
        out->before = smaller(out->before, before_middle_of(s, w.other));
    } else if (drop < 0.0 && drop < own && s->wet[w.other] != FRONT_NODE_NEVER) {
      const double weight = w.conductance * ((own < 0.0 ? own : 0.0) - drop);
      if (w.side >= 0)
        warm[num_warm++] = (warm_way){w.side, -drop, weight};
      else
        take_way(&out->water, weight, -drop, 1.0);
    }
    if (s->wet[w.other] != FRONT_NODE_WET)
      continue;
    if (!waits)
      out->ahead = out->ahead || s->enthalpy[w.other] > further;
    else if (level >= FRONT_NODE_NEXT && s->place[w.other] < 0 && s->enthalpy[w.other] >= not_begun && w.other != node)
      waiting[w.side >= 0 ? w.side : SIDES] = true;
  }
  if (waits)
    out->ahead = follows(s, node, out, waiting);
  if (num_warm > 0)
    take_warm_ways(out, warm, num_warm);
}

/* How far beyond the middle of a node without one ahead the front is when all is frozen. */
static double last_way(const front_node_scene *s, size_t node, const front_ways *around)
{
  double all = 0.0, most = 0.0;
  for (int axis = 0; axis < 3; axis++) {
    const double one_sided = fabs(around->side[2 * axis] - around->side[2 * axis + 1]);
    all += one_sided;
    most = larger(most, one_sided);
  }
  if (all - most > HEMMED * around->ice.weight)
    return INTO_CORNER;
  return s->round_axis && node < s->beside->num_cells && node % s->beside->rows->num[0] == 0 && around->side[1] > 0.5 * around->ice.weight ? ONTO_AXIS : ONTO_PLANE;
}

/* The fall at the front of ice that is still cooling, from the even one that was found some nodes behind. */
static inline double fall_at_front(double solid_slope, double latent, double base, double weight, double even, double rise)
{
  const double stefan = larger(even - rise, 0.0) / (solid_slope * latent);
  return even / (1.0 + 0.5 * stefan * base / weight);
}

bool front_node_find_swept(const front_node_scene *s, front_node_level level, size_t node, heat_potential_ramp *out)
{
  enum { PASSES = 3 };
  const front_node_stuff *stuff = &s->stuff[s->part[node]];
  /* A node whose ice is about to begin has the enthalpy of the clear ones to rounding: it is on the ramp whichever way that falls. */
  const double enthalpy = s->enthalpy[node], begin = larger(s->clear[s->part[node]], enthalpy) + ROUNDING * (stuff->liquid - stuff->solid);
  front_ways around;
  look_around(s, level, node, &around);
  const mean ice = around.ice;
  if (!(ice.weight > 0.0))
    return false;
  const double from_surface = ice.surface / ice.weight; /* those are brought nearer instead (network_ends_meet_front) */
  double beyond = 0.0;
  for (int pass = 0; pass < PASSES; pass++) {
    const double fall = fall_of(&ice, beyond), end = stuff->solid - 0.5 * fall / stuff->solid_slope, half = 0.5 * (begin + end);
    *out = (heat_potential_ramp){.node = (int32_t)node,
                                 .end = end,
                                 .half = half,
                                 .begin = begin,
                                 .middle = stuff->at_freezing,
                                 .ice = stuff->at_freezing - phase_curve_potential(s->curve[s->part[node]], end),
                                 .water = 0.5 * fall * (1.0 - from_surface),
                                 .from_surface = from_surface,
                                 .even = 1.0,
                                 .beyond = 0.5,
                                 .last = true,
                                 .frozen_line = half - end,
                                 .liquid_line = begin - half};
    beyond = enthalpy <= end ? 0.5 : (half - enthalpy) / (begin - end);
    beyond *= beyond < 0.0 ? 1.0 - from_surface : 1.0;
  }
  return level != FRONT_NODE_FROZEN || enthalpy > out->end;
}

/* ------------------------------------------------------------------------------------------- many nodes at once */

enum { PACK = FRONT_NODE_PACK };

/* Some nodes with what was seen around them and what they offer, quantity by quantity: roots and quotients of several at a time. */
typedef struct {
  const phase_curve *curve[PACK];
  double enthalpy[PACK], solid[PACK], liquid[PACK], at_freezing[PACK], solid_slope[PACK], liquid_slope[PACK];
  double ice_weight[PACK], ice_fall[PACK], ice_depth[PACK], ice_base[PACK], water_weight[PACK], water_fall[PACK], water_depth[PACK];
  double from_surface[PACK], way[PACK];      /* way: nodes beyond the middle until it is through             */
  double own[PACK];                          /* u by the curve, above freezing                               */
  double most_rise[PACK], share_of_more[PACK]; /* W/m; and of what is more, the share that counts             */
  double beyond[PACK], before[PACK];         /* nodes that the front is beyond the middle, or still before it */
  double rise[PACK], end[PACK], half[PACK], begin[PACK], ice[PACK], water[PACK];
  double frozen_line[PACK], liquid_line[PACK];
} pack;

static void take_in(pack *p, size_t l, const front_node_scene *s, size_t node, const front_ways *around)
{
  const front_node_stuff *stuff = &s->stuff[s->part[node]];
  p->curve[l] = s->curve[s->part[node]];
  p->enthalpy[l] = s->enthalpy[node];
  p->solid[l] = stuff->solid;
  p->liquid[l] = stuff->liquid;
  p->at_freezing[l] = stuff->at_freezing;
  p->solid_slope[l] = stuff->solid_slope;
  p->liquid_slope[l] = stuff->liquid_slope;
  p->ice_weight[l] = around->ice.weight;
  p->ice_fall[l] = around->ice.fall;
  p->ice_depth[l] = around->ice.depth;
  p->ice_base[l] = around->ice.base;
  p->water_weight[l] = around->water.weight;
  p->water_fall[l] = around->water.fall;
  p->water_depth[l] = around->water.depth;
  p->from_surface[l] = around->ice.surface / around->ice.weight;
  p->way[l] = around->ahead ? 1.0 : last_way(s, node, around);
  p->own[l] = s->potential[node] - stuff->at_freezing;
  p->beyond[l] = p->before[l] = 0.0;
  p->most_rise[l] = around->before > 0.0 ? larger(p->own[l], 0.0) / (1.0 + around->before) : INFINITY;
  p->share_of_more[l] = larger(1.0 - around->before / NEARLY_THERE, 0.0);
}

/* The ramps but for the fall and rise of u to their ends, which are read from the curves. */
static void set_ramps(pack *p)
{
#pragma omp simd
  for (size_t l = 0; l < PACK; l++) {
    const double free = p->water_weight[l] > 0.0 ? p->water_fall[l] / (p->water_weight[l] + p->water_depth[l] * p->before[l]) : 0.0;
    const double more = free - p->most_rise[l], rise = more > 0.0 ? p->most_rise[l] + p->share_of_more[l] * more : free;
    const double even = p->ice_weight[l] > 0.0 ? p->ice_fall[l] / (p->ice_weight[l] + p->ice_depth[l] * p->beyond[l]) : 0.0;
    const double latent = p->liquid[l] - p->solid[l];
    const double fall = fall_at_front(p->solid_slope[l], latent, p->ice_base[l], p->ice_weight[l], even, rise);
    const double frozen = fall / p->solid_slope[l], liquid = rise / p->liquid_slope[l], nearer = 1.0 - 0.5 * p->from_surface[l];
    const double end = p->solid[l] - p->way[l] * frozen, begin = p->liquid[l] + nearer * liquid;
    const double half = p->solid[l] + 0.5 * latent + 0.125 * (liquid - frozen);
    p->rise[l] = rise;
    p->end[l] = end;
    p->begin[l] = begin;
    p->half[l] = half;
    p->frozen_line[l] = p->way[l] < 1.0 ? half - end : p->way[l] * frozen;
    p->liquid_line[l] = (1.0 - p->from_surface[l]) * liquid + p->from_surface[l] * (begin - half);
  }
}

/* The curve of three lines that all nodes of a pack have; NULL: they have no such one. */
static const phase_curve *common_lines(const pack *p)
{
  bool common = p->curve[0]->three_lines;
  for (size_t l = 1; l < PACK; l++)
    common = common && p->curve[l] == p->curve[0];
  return common ? p->curve[0] : NULL;
}

/* The ramps end where the curves themselves are: a jump of u there would keep an implicit step from converging. */
static void reach_curves(pack *p)
{
  const phase_curve *lines = common_lines(p);
  if (lines) {
#pragma omp simd
    for (size_t l = 0; l < PACK; l++) {
      p->ice[l] = p->at_freezing[l] - phase_curve_lines_potential(lines, p->end[l]);
      p->water[l] = phase_curve_lines_potential(lines, p->begin[l]) - p->at_freezing[l];
    }
    return;
  }
  for (size_t l = 0; l < PACK; l++) {
    p->ice[l] = p->at_freezing[l] - phase_curve_potential(p->curve[l], p->end[l]);
    p->water[l] = phase_curve_potential(p->curve[l], p->begin[l]) - p->at_freezing[l];
  }
}

/* How far the front is beyond the middles, in nodes, 0 where it has not come so far; or before them. heat_potential_ramp_at for many. */
static void place_fronts(pack *p)
{
#pragma omp simd
  for (size_t l = 0; l < PACK; l++) {
    const double h = p->enthalpy[l], middle = p->at_freezing[l], end = p->end[l], begin = p->begin[l], frozen_line = p->frozen_line[l],
                 liquid_line = p->liquid_line[l];
    const bool frozen = h < p->half[l];
    const double edge = frozen ? end : begin, line = frozen ? frozen_line : liquid_line;
    const double square = fabs(p->half[l] - edge) - line, value = fabs(h - edge);
    const double under = line * line + 4.0 * square * value, sum = line + sqrt(under > 0.0 ? under : 0.0);
    const double short_of = 1.0 - (sum > 0.0 ? 2.0 * value / sum : 0.0);
    const double fallen = p->way[l] * (middle - (middle - p->ice[l] * short_of)) / p->ice[l];
    const double risen = h >= p->begin[l] ? p->own[l] : (middle + p->water[l] * short_of) - middle;
    p->beyond[l] = h <= p->end[l] ? p->way[l] : frozen ? fallen : 0.0;
    p->before[l] = !(p->rise[l] > 0.0) || h <= p->half[l] ? 0.0 : risen / p->rise[l];
  }
}

static void hand_out(const pack *p, size_t l, int32_t node, heat_potential_ramp *out)
{
  *out = (heat_potential_ramp){.node = node,
                               .end = p->end[l],
                               .half = p->half[l],
                               .begin = p->begin[l],
                               .middle = p->at_freezing[l],
                               .ice = p->ice[l],
                               .water = p->water[l],
                               .from_surface = p->from_surface[l],
                               .even = p->from_surface[l],
                               .beyond = p->way[l],
                               .last = p->way[l] < 1.0,
                               .frozen_line = p->frozen_line[l],
                               .liquid_line = p->liquid_line[l]};
}

void front_node_find(const front_node_scene *s, front_node_level level, const int32_t *node, size_t num, heat_potential_ramp *out)
{
  enum { PASSES = 3 };
  pack p;
  front_ways around[PACK];
  int32_t cold[PACK]; /* those with cold beside them */
  size_t place[PACK], num_cold = 0;
  for (size_t i = 0; i < num; i++) {
    out[i].node = -1;
    look_around(s, level, (size_t)node[i], &around[num_cold]);
    if (around[num_cold].ice.weight > 0.0) {
      place[num_cold] = i;
      cold[num_cold++] = node[i];
    }
  }
  if (num_cold == 0)
    return;
  for (size_t l = 0; l < PACK; l++) { /* the first once more where there are no others */
    const size_t from = l < num_cold ? l : 0;
    take_in(&p, l, s, (size_t)cold[from], &around[from]);
  }
  for (int pass = 0; pass < PASSES; pass++) {
    if (pass > 0)
      place_fronts(&p);
    set_ramps(&p);
    reach_curves(&p);
  }
  for (size_t l = 0; l < num_cold; l++)
    if (level != FRONT_NODE_FROZEN || p.enthalpy[l] > p.end[l])
      hand_out(&p, l, cold[l], &out[place[l]]);
}

/* ------------------------------------------------------------------------------------------- ahead of the front */

double front_node_rise_ahead(const front_neighbours *beside, size_t node, const double *potential, const double *face_conductance,
                             double at_freezing)
{
  mean water = {0};
  front_neighbours_walk w;
  for (front_neighbours_begin(&w, beside, face_conductance, node); front_neighbours_step(&w);)
    if (potential[w.other] > potential[node])
      take_way(&water, w.conductance * (potential[w.other] - potential[node]), potential[w.other] - at_freezing, 0.0);
  return fall_of(&water, 0.0);
}
