/* What stands on either side of an interface: a node, or the surroundings. */
#include "solver/network_parts.h"

#include <math.h>

static const double DRY_CAVITY = 1e6; /* times the resistance of water: next to nothing, and booked like any other heat */
static const double CLOSED = 1e12;    /* K/W */

/* How much closer the front is than the middle of a node that melts from its surface: liquid of a share f of it is a film 2 f of half its depth. */
static double thin_film(const phase_curve *c, double enthalpy)
{
  static const double THINNEST = 0.005; /* of half the depth: a film of some hundredths of a millimetre resists next to nothing */
  if (!(enthalpy > c->solid_enthalpy && enthalpy < c->liquid_enthalpy))
    return 1.0;
  const double deep = 2.0 * (enthalpy - c->solid_enthalpy) / (c->liquid_enthalpy - c->solid_enthalpy);
  return deep < 1.0 ? 1.0 / larger(deep, THINNEST) : 1.0;
}

surface_end network_ends_at(const network *net, size_t node, double area, double reach, bool upright, int32_t layer, const double *enthalpy)
{
  const int32_t part = net->part[node];
  surface_end end = {.kind = SURFACE_END_NODE, .curve = net->curve[part], .potential = net->potential[node],
                     .temperature = network_node_temperature(net, node, enthalpy), .reach = reach, .factor = 1.0};
  const ice_layer *ice = layer >= 0 ? &net->layers[layer] : NULL;
  if (ice && ice->cover > 0.0) { /* film and ice side by side, as the step begins */
    return (surface_end){.kind = SURFACE_END_ENVIRONMENT, .temperature = ice->offered, .reach = 1.0 / ice->conductance, .factor = 1.0};
  } else if (ice) {
    end.kind = SURFACE_END_STIRRED;
    end.temperature = net->ice_baths[ice->bath].temperature;
    end.reach = 1.0 / ice->conductance;
  } else if (net->pooled[part] || network_is_clear(net, (int32_t)node)) {
    end.kind = SURFACE_END_STIRRED;
    end.reach = 1.0 / (net->film[part] * area);
    if (!net->pooled[part])
      end.temperature = net->mix_temperature[part];
  } else {
    if (net->moving && network_holds_liquid(net, node, enthalpy))
      end.factor = upright ? net->horizontal[node] : net->vertical[node];
    end.lays_ice = !front_cells_is_sharp(net->front, part);
    end.melts = net->thawing && net->rig->parts[part].kind == PART_WATER && !(enthalpy[node] > net->curve[part]->solid_enthalpy);
    if (net->thawing && net->rig->parts[part].kind == PART_WATER)
      end.factor = larger(end.factor, thin_film(net->curve[part], enthalpy[node]));
  }
  if (net->dry[part])
    end.reach *= DRY_CAVITY;
  return end;
}

surface_end network_ends_node(const network *net, const joint *j, int s, const double *enthalpy)
{
  const mesh_interface *f = &net->mesh->interfaces[j - net->joints];
  return network_ends_at(net, (size_t)j->node[s], f->area[s], mesh_reach(net->mesh, f, s), network_ends_upright(f), j->layer[s], enthalpy);
}

/* A surface at the side, which liquid meets sideways. */
bool network_ends_upright(const mesh_interface *f)
{
  return fabs(f->normal[2]) < 0.7;
}

/* u at the freezing point less u at a temperature below it. */
static double drop_at(const phase_curve *c, double temperature)
{
  return phase_curve_potential(c, c->liquid_enthalpy) - phase_curve_potential(c, phase_curve_enthalpy(c, temperature));
}

static double enthalpy_of_middle(const network *net, size_t node, double temperature)
{
  return front_cells_middle(net->front, node, net->potential, net->face_moved, drop_at(net->curve[net->part[node]], temperature));
}

/* How much nearer the front is, on the average, than the middle. With the whole half depth d as the way, a front from the surface is late
 * by the time that freezes h^2 / 8 times L / (k drop), h the width of the cells behind: for a node as deep as they d = h / 2, and all of it
 * is lost before the middle; of a node of another depth, D = 2 d, D^2 / 8 is, and (h^2 - D^2) / 8 behind it, because the nodes
 * share what freezes between their middles by halves and not by their depths. d (1 - share) D / 2 = h^2 / 8 makes up for both. */
static double nearer_share(const network *net, size_t place)
{
  static const double LEAST = 0.25; /* shallower nodes: late by up to 0.16 of the time to freeze a cell, at half a cell deep */
  const mesh_interface *f = &net->mesh->interfaces[place / 2];
  const grid *g = net->mesh->grid;
  size_t at[3];
  double width = 0.0;
  grid_cell_indices(g, (size_t)net->mesh->cell[f->node[place % 2]], at);
  for (int axis = 0; axis < 3; axis++)
    if (g->kind != GRID_RZ || axis != 1)
      width += f->normal[axis] * f->normal[axis] * (g->edges[axis][at[axis] + 1] - g->edges[axis][at[axis]]);
  const double cells = 2.0 * f->distance[place % 2] / width;
  return larger(1.0 - 0.5 / (cells * cells), LEAST);
}

static bool meets_front(const network *net, size_t node, const double *enthalpy, double other_temperature)
{
  const phase_curve *c = net->curve[net->part[node]];
  if (!(other_temperature < c->freezing_temperature) || !(enthalpy[node] > c->solid_enthalpy)) /* without liquid it is past the middle up to Ste 2 */
    return false;
  if (net->num_mix > 0 && net->mix_state[node] == MIX_FRONT)
    return front_cells_before_middle(net->front, node, enthalpy[node]);
  /* with no liquid ahead the middle would come soonest: most nodes are past that */
  if (!(enthalpy[node] > front_cells_middle_at_least(net->front, net->part[node], drop_at(c, other_temperature))))
    return false;
  return front_cells_begins(net->front, node, enthalpy, net->potential, net->face_moved) &&
         enthalpy[node] > enthalpy_of_middle(net, node, other_temperature);
}

void network_ends_meet_front(network *net, size_t place, size_t node, const double *enthalpy, double other_temperature, surface_end *end)
{
  const bool meets = end->kind == SURFACE_END_NODE && meets_front(net, node, enthalpy, other_temperature);
  net->front_nearer[place] = meets ? nearer_share(net, place) : 1.0;
  end->reach *= net->front_nearer[place];
}

bool network_ends_leave_front(network *net, size_t place, size_t node, const double *enthalpy, double surface_temperature, surface_end *end)
{
  if (!(net->front_nearer[place] < 1.0) || (net->num_mix > 0 && net->mix_state[node] == MIX_FRONT) ||
      enthalpy[node] > enthalpy_of_middle(net, node, surface_temperature))
    return false;
  end->reach /= net->front_nearer[place];
  net->front_nearer[place] = 1.0;
  return true;
}

/* What of the film is convection follows from the temperature of the surface (surface.c). */
static void take_moisture(surface_end *end, const rig *r, const surroundings *s, double area, moist_air_room *air)
{
  *air = (moist_air_room){.temperature = end->temperature, .relative_humidity = r->room.relative_humidity, .pressure = r->room.pressure};
  end->moist = air;
  end->area = area;
  end->wet = s->wet;
}

/* Temperature of the surroundings and their resistance, K/W. `air` is filled where moisture counts. */
surface_end network_ends_outside(const network *net, const surroundings *s, double area, double time, moist_air_room *air)
{
  const rig *r = net->rig;
  const double room = isnan(net->stage_room) ? network_value(&r->room.temperature, time, NAN) : net->stage_room;
  surface_end end = {.kind = SURFACE_END_ENVIRONMENT, .temperature = room, .factor = 1.0};
  if (s->held >= 0) {
    const rig_part *held = &r->parts[s->held];
    end.temperature = schedule_at(&held->held, time);
    end.reach = held->held_film > 0.0 ? 1.0 / (held->held_film * area) : 0.0;
  } else if (s->rule >= 0) {
    const surface_rule *rule = &r->rules[s->rule];
    const double ambient = s->kind == SURFACE_FLOOR ? network_value(&r->room.floor_temperature, time, room) : room;
    end.temperature = network_value(&rule->temperature, time, ambient);
    const double film = s->kind == SURFACE_FIXED ? INFINITY : schedule_at(&rule->coefficient, time);
    end.reach = 1.0 / (film * area);
    if ((rule->condensation || s->wet) && s->kind == SURFACE_FILM)
      take_moisture(&end, r, s, area, air);
  } else {
    end.reach = 1.0 / (r->room.film * area);
    if (s->wet)
      take_moisture(&end, r, s, area, air);
  }
  if (s->closed)
    end = (surface_end){.kind = SURFACE_END_ENVIRONMENT, .temperature = isnan(end.temperature) ? 0.0 : end.temperature, .factor = 1.0, .reach = CLOSED};
  return end;
}

double network_ends_contact(const network *net, int32_t rule, double area, double time)
{
  return rule >= 0 ? schedule_at(&net->rig->rules[rule].coefficient, time) / area : 0.0;
}
