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
  return network_ends_at(net, (size_t)j->node[s], f->area[s], f->distance[s] / f->area[s], network_ends_upright(f), j->layer[s], enthalpy);
}

/* A surface at the side, which liquid meets sideways. */
bool network_ends_upright(const mesh_interface *f)
{
  return fabs(f->normal[2]) < 0.7;
}

/* Whether the surface is the face of a cell that nothing cuts. In cut cells no gain was found: their middles lie at all depths. */
static bool on_whole_cell(const network *net, const mesh_interface *f, int s)
{
  const grid *g = net->mesh->grid;
  size_t at[3];
  grid_cell_indices(g, (size_t)net->mesh->cell[f->node[s]], at);
  for (int axis = 0; axis < 3; axis++)
    if (fabs(f->normal[axis]) > 1.0 - 1e-6)
      return fabs(2.0 * f->distance[s] / (g->edges[axis][at[axis] + 1] - g->edges[axis][at[axis]]) - 1.0) < 1e-3;
  return false;
}

void network_ends_meet_front(const network *net, size_t place, size_t node, const double *enthalpy, double other_temperature, surface_end *end)
{
  if (end->kind == SURFACE_END_NODE && other_temperature < net->curve[net->part[node]]->freezing_temperature &&
      (net->num_mix > 0 && net->mix_state[node] == MIX_FRONT
           ? front_cells_before_middle(net->front, node, enthalpy[node])
           : front_cells_begins(net->front, node, enthalpy, net->potential, net->face_moved)) &&
      on_whole_cell(net, &net->mesh->interfaces[place / 2], (int)(place % 2)))
    end->reach *= 0.5;
}

/* A film is convection and radiation together; moisture follows the convection. Radiation of a surface of emissivity 0.95:
 * 4 eps sigma T^3 (Incropera & DeWitt, ch. 1); a weaker film is all radiation. */
double network_ends_convective_part(double film, double temperature)
{
  const double T = temperature + 273.15, radiation = 4.0 * 0.95 * 5.670374e-8 * T * T * T;
  return film > radiation ? film - radiation : 0.0;
}

static void take_moisture(surface_end *end, const rig *r, const surroundings *s, double film, double area, moist_air_room *air)
{
  *air = (moist_air_room){.convection = network_ends_convective_part(film, end->temperature), .temperature = end->temperature,
                          .relative_humidity = r->room.relative_humidity, .pressure = r->room.pressure};
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
      take_moisture(&end, r, s, film, area, air);
  } else {
    end.reach = 1.0 / (r->room.film * area);
    if (s->wet)
      take_moisture(&end, r, s, r->room.film, area, air);
  }
  if (s->closed)
    end = (surface_end){.kind = SURFACE_END_ENVIRONMENT, .temperature = isnan(end.temperature) ? 0.0 : end.temperature, .factor = 1.0, .reach = CLOSED};
  return end;
}

double network_ends_contact(const network *net, int32_t rule, double area, double time)
{
  return rule >= 0 ? schedule_at(&net->rig->rules[rule].coefficient, time) / area : 0.0;
}
