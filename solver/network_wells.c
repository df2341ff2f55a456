/* Wells of a network: how tubes and channels are joined to its nodes. */
#include "solver/network_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/coil_line.h"

static const double PI = 3.14159265358979323846;

/* K/W from the tube's outer surface to the refrigerant, `length` m of tube with an inner film; outer film included when the tube has one. */
static double tube_resistance(const rig_coil *c, double inner_film, double length)
{
  const double outer = 0.5 * c->tube_outer, inner = outer - c->tube_wall;
  double r = 0.0;
  if (c->outer_film > 0.0)
    r += 1.0 / (c->outer_film * 2.0 * PI * outer * length);
  if (c->tube_wall > 0.0 && c->tube_conductivity > 0.0)
    r += log(outer / inner) / (2.0 * PI * c->tube_conductivity * length);
  if (inner_film > 0.0)
    r += 1.0 / (inner_film * 2.0 * PI * inner * length);
  return r;
}

/* What is on the way through `length` m of tube: wetted inside, and full of vapour. */
static void fill_tube(well_entry *w, const rig_coil *c, double length)
{
  w->tube = tube_resistance(c, c->inner_film, length);
  w->dry_share = c->inner_film > 0.0 ? c->superheated_share : 0.0; /* a perfect inner side knows no vapour */
  w->dry = tube_resistance(c, c->superheated_film, length);
}

static status grow_wells(network *net, size_t more_wells, size_t more_nodes, message *msg)
{
  well_entry *wells = realloc(net->wells, (net->num_wells + more_wells + 1) * sizeof *wells);
  net->wells = wells ? wells : net->wells;
  int32_t *nodes = realloc(net->well_node, (net->num_well_nodes + more_nodes + 1) * sizeof *nodes);
  net->well_node = nodes ? nodes : net->well_node;
  double *weights = realloc(net->well_weight, (net->num_well_nodes + more_nodes + 1) * sizeof *weights);
  net->well_weight = weights ? weights : net->well_weight;
  return wells && nodes && weights ? STATUS_OK : network_no_memory(msg, net->num_well_nodes + more_nodes, "nodes of the coil");
}

static void add_well(network *net, well_entry w, const int32_t *node, const double *weight, size_t num)
{
  w.first = net->num_well_nodes;
  w.num = num;
  for (size_t n = 0; n < num; n++) {
    net->well_node[net->num_well_nodes] = node[n];
    net->well_weight[net->num_well_nodes++] = weight[n];
  }
  net->wells[net->num_wells++] = w;
}

static int32_t pool_of(const network *net, int32_t part)
{
  for (size_t node = 0; node < net->num_nodes; node++)
    if (net->part[node] == part)
      return (int32_t)node;
  return -1;
}

/* Channels through a part that is one temperature. */
static status channels_in_pool(network *net, size_t coil, message *msg)
{
  const rig_coil *c = &net->rig->coils[coil];
  const int32_t pool = pool_of(net, c->part);
  const double whole = 1.0;
  if (pool < 0)
    return message_set(msg, STATUS_BAD_INPUT, "coil %s: \"%s\" is thinner than the grid's cells, so there is no room for channels in it; make it thicker, or the cells "
                       "finer", c->name, net->rig->parts[c->part].name);
  const status code = grow_wells(net, 1, 1, msg);
  if (code == STATUS_OK)
    add_well(net, (well_entry){.coil = (int32_t)coil, .by_temperature = true, .shells = -1, .layer = -1, .tube = 1.0 / c->conductance}, &pool, &whole, 1);
  return code;
}

/* A ring in a stirred bath: the bath's film on the tube is put in at each refresh, when the tube has none of its own. */
static status ring_in_pool(network *net, size_t coil, size_t ring, int32_t part, double length, message *msg)
{
  const rig_coil *c = &net->rig->coils[coil];
  const status code = grow_wells(net, 1, 1, msg);
  if (code != STATUS_OK)
    return code;
  const int32_t pool = pool_of(net, part);
  const double whole = 1.0;
  /* geometric: the outer area, where the bath's own film is needed */
  well_entry w = {.coil = (int32_t)coil, .by_temperature = true, .shells = -1, .layer = -1, .ring = ring, .outer = PI * c->tube_outer * length,
                  .geometric = c->outer_film > 0.0 ? 0.0 : PI * c->tube_outer * length};
  fill_tube(&w, c, length);
  add_well(net, w, &pool, &whole, 1);
  return STATUS_OK;
}

/* Index of the shells round a ring, -1: none. */
static int32_t shells_of(const network *net, size_t coil, size_t ring)
{
  for (size_t i = 0; i < net->num_rings; i++)
    if (net->rings[i].coil == (int32_t)coil && net->rings[i].ring == ring)
      return (int32_t)i;
  return -1;
}

static status ring_in_shells(network *net, size_t coil, int32_t shells, double length, message *msg)
{
  const status code = grow_wells(net, 1, 0, msg);
  well_entry w = {.coil = (int32_t)coil, .layer = -1, .shells = shells, .geometric = net->rings[shells].geometric};
  fill_tube(&w, &net->rig->coils[coil], length);
  if (code == STATUS_OK)
    add_well(net, w, NULL, NULL, 0);
  return code;
}

/* A tube whose film acts on the cells it covers: a well for each of them, its share of `joined`. Room for num wells and nodes is there. */
static status spread_over(network *net, const well_entry *joined, const int32_t *node, const double *weight, size_t num, message *msg)
{
  static const double whole = 1.0;
  if (!(joined->tube > 0.0))
    return message_set(msg, STATUS_BAD_INPUT, "coil %s: a spread coil needs a film, a tube wall or an inner film", net->rig->coils[joined->coil].name);
  for (size_t n = 0; n < num; n++) {
    if (!(weight[n] > 0.0))
      continue;
    well_entry one = *joined;
    one.tube /= weight[n];
    one.dry /= weight[n];
    add_well(net, one, &node[n], &whole, 1);
  }
  return STATUS_OK;
}

static status ring_in_grid(network *net, size_t coil, size_t ring, int32_t part, double scale, message *msg)
{
  const rig_coil *c = &net->rig->coils[coil];
  coil_well w = {0};
  message inner = {""};
  status code = coil_well_create(&w, net->mesh, part, c->rings[ring][0], c->rings[ring][1], 0.5 * c->tube_outer, c->spread, &inner);
  if (code != STATUS_OK)
    return message_set(msg, code, "coil %s, ring %zu: %.900s", c->name, ring + 1, inner.text);
  well_entry joined = {.coil = (int32_t)coil, .by_temperature = c->spread, .shells = -1, .layer = -1};
  fill_tube(&joined, c, w.length * scale);
  code = grow_wells(net, w.num, w.num, msg);
  if (code == STATUS_OK && c->spread) {
    code = spread_over(net, &joined, w.node, w.weight, w.num, msg);
  } else if (code == STATUS_OK) {
    joined.geometric = w.geometric * scale;
    joined.radius = 0.5 * c->tube_outer;
    joined.length = w.length * scale;
    add_well(net, joined, w.node, w.weight, w.num);
  }
  coil_well_release(&w);
  return code;
}

/* A piece of tube along a line. */
static status piece_in_grid(network *net, size_t coil, const coil_line_piece *p, message *msg)
{
  const rig_coil *c = &net->rig->coils[coil];
  well_entry joined = {.coil = (int32_t)coil, .by_temperature = c->spread, .shells = -1, .layer = -1};
  fill_tube(&joined, c, p->length);
  const status code = grow_wells(net, c->spread ? p->num : 1, p->num, msg);
  if (code != STATUS_OK)
    return code;
  if (c->spread)
    return spread_over(net, &joined, p->node, p->weight, p->num, msg);
  joined.geometric = p->geometric;
  joined.radius = 0.5 * c->tube_outer;
  joined.length = p->length;
  add_well(net, joined, p->node, p->weight, p->num);
  return STATUS_OK;
}

/* A tube along a line: a well for each piece, and one for all that lies in a stirred part. */
static status line_in_grid(network *net, size_t coil, message *msg)
{
  const rig_coil *c = &net->rig->coils[coil];
  coil_line line;
  message inner = {""};
  status code = coil_line_create(&line, net->mesh, (const double(*)[3])c->points, c->num_points, 0.5 * c->tube_outer, net->pooled, c->spread, &inner);
  if (code != STATUS_OK)
    return message_set(msg, code, "coil %s: %.900s", c->name, inner.text);
  for (size_t i = 0; code == STATUS_OK && i < line.num; i++) {
    if (line.pieces[i].num > 0)
      code = piece_in_grid(net, coil, &line.pieces[i], msg);
  }
  for (int32_t part = 0; code == STATUS_OK && part < net->mesh->num_parts; part++) {
    double length = 0.0;
    for (size_t i = 0; net->pooled[part] && i < line.num; i++)
      length += line.pieces[i].part == part ? line.pieces[i].length : 0.0;
    if (length > 0.0)
      code = ring_in_pool(net, coil, 0, part, length, msg);
  }
  coil_line_release(&line);
  return code;
}

static status make_coil(network *net, size_t coil, message *msg)
{
  const rig_coil *c = &net->rig->coils[coil];
  if (c->conductance > 0.0)
    return channels_in_pool(net, coil, msg);
  if (c->num_points > 0)
    return line_in_grid(net, coil, msg);
  double turns = 0.0;
  for (size_t ring = 0; ring < c->num_rings; ring++)
    turns += 2.0 * PI * c->rings[ring][0];
  const double scale = c->length > 0.0 && turns > 0.0 ? c->length / turns : 1.0; /* the rise of the helix */
  status code = STATUS_OK;
  for (size_t ring = 0; code == STATUS_OK && ring < c->num_rings; ring++) {
    const double point[3] = {c->rings[ring][0], 0.0, c->rings[ring][1]};
    const int32_t node = mesh_node_at(net->mesh, point);
    if (node < 0) {
      code = message_set(msg, STATUS_BAD_INPUT, "coil %s, ring %zu at r = %g m, z = %g m lies in no part that conducts; move it",
                         c->name, ring + 1, point[0], point[2]);
      break;
    }
    const int32_t part = net->mesh->part[node];
    const int32_t shells = shells_of(net, coil, ring);
    const double length = 2.0 * PI * point[0] * scale;
    code = net->pooled[part] ? ring_in_pool(net, coil, ring, part, length, msg)
           : shells >= 0     ? ring_in_shells(net, coil, shells, length, msg)
                             : ring_in_grid(net, coil, ring, part, scale, msg);
  }
  return code;
}

status network_wells_make(network *net, message *msg)
{
  status code = STATUS_OK;
  for (size_t coil = 0; code == STATUS_OK && coil < net->rig->num_coils; coil++) {
    char what[NETWORK_PATH_NAME];
    const char *name = net->rig->coils[coil].name;
    (void)snprintf(what, sizeof what, "%s%s", strstr(name, "coil") ? "" : "coil ", name);
    const int32_t path = network_joints_path(net, "%s", what);
    if (coil == 0)
      net->first_coil_path = (size_t)path;
    net->coolant[coil].temperature = network_value(&net->rig->coils[coil].temperature, 0.0, NAN);
    net->coolant_temperature[coil] = NAN;
    code = make_coil(net, coil, msg);
  }
  return code;
}
