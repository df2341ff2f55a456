/* Making a network: unknowns, rows, faces, walls, front, what bounds the step; joints and paths in network_joints.c, tubes in network_wells.c. */
#include "solver/network_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>


enum { PAD = 16 };

static status allocate(network *net, message *msg)
{
  const size_t n = net->num_unknowns + 1, parts = (size_t)net->mesh->num_parts + 1, patches = net->num_patches + 1;
  const size_t interfaces = net->mesh->num_interfaces + 1, coils = net->rig->num_coils + 1;
  double **by_unknown[] = {&net->volume, &net->inverse_volume, &net->horizontal, &net->vertical, &net->still_sum,
                           &net->sum,    &net->entry_still,    &net->entry_sum,  &net->slope,    &net->pivot, &net->warmth};
  double **by_part[] = {&net->film, &net->steepest, &net->steepest_moving, &net->low_moving, &net->high_moving, &net->still_most, &net->most, &net->most_moving, &net->most_icing};
  double **by_patch[] = {&net->wall_temperature, &net->wall_right, &net->wall_diagonal, &net->wall_heat, &net->wall_own, &net->wall_relax};
  bool ok = true;
  for (size_t a = 0; a < sizeof by_unknown / sizeof *by_unknown; a++)
    ok = (*by_unknown[a] = calloc(n, sizeof(double))) != NULL && ok;
  for (size_t a = 0; a < sizeof by_part / sizeof *by_part; a++)
    ok = (*by_part[a] = calloc(parts, sizeof(double))) != NULL && ok;
  for (size_t a = 0; a < sizeof by_patch / sizeof *by_patch; a++)
    ok = (*by_patch[a] = calloc(patches, sizeof(double))) != NULL && ok;
  ok = (net->low = calloc(NETWORK_SHARES * parts * NETWORK_STRANDS, sizeof(double))) != NULL && ok;
  ok = (net->high = calloc(NETWORK_SHARES * parts * NETWORK_STRANDS, sizeof(double))) != NULL && ok;
  ok = (net->front_depth = calloc(NETWORK_FRONT_SHARES * parts, sizeof *net->front_depth)) != NULL && ok;
  ok = (net->curve = calloc(parts, sizeof *net->curve)) != NULL && ok;
  ok = (net->pooled = calloc(parts, sizeof *net->pooled)) != NULL && ok;
  ok = (net->dry = calloc(parts, sizeof *net->dry)) != NULL && ok;
  ok = (net->unknown = calloc(n, sizeof *net->unknown)) != NULL && ok;
  ok = (net->part = calloc(n, sizeof *net->part)) != NULL && ok;
  ok = (net->liquid = calloc(n, sizeof *net->liquid)) != NULL && ok;
  ok = (net->faces = calloc(net->mesh->num_faces + 1, sizeof *net->faces)) != NULL && ok;
  ok = (net->joints = calloc(interfaces, sizeof *net->joints)) != NULL && ok;
  ok = (net->pairs = calloc(interfaces, sizeof *net->pairs)) != NULL && ok;
  ok = (net->outsides = calloc(interfaces, sizeof *net->outsides)) != NULL && ok;
  ok = (net->links = calloc(2 * interfaces, sizeof *net->links)) != NULL && ok;
  ok = (net->wall_places = calloc(2 * interfaces, sizeof *net->wall_places)) != NULL && ok;
  ok = (net->wall_befores = calloc(parts, sizeof *net->wall_befores)) != NULL && ok;
  ok = (net->wall_outsides = calloc(2 * interfaces, sizeof *net->wall_outsides)) != NULL && ok;
  ok = (net->unsettled = calloc(patches, sizeof *net->unsettled)) != NULL && ok;
  ok = (net->surface = calloc(interfaces, sizeof *net->surface)) != NULL && ok;
  ok = (net->lateral = calloc(net->mesh->num_patch_links + 1, sizeof *net->lateral)) != NULL && ok;
  ok = (net->to_image = calloc(net->num_patches + 1, sizeof *net->to_image)) != NULL && ok;
  ok = (net->coolant = calloc(coils, sizeof *net->coolant)) != NULL && ok;
  ok = (net->coolant_temperature = calloc(coils, sizeof(double))) != NULL && ok;
  ok = (net->coil_heat = calloc(coils, sizeof(double))) != NULL && ok;
  if (!ok)
    return network_no_memory(msg, net->num_unknowns, "nodes of the heat balance");
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------- unknowns */

/* A part with channels is one temperature. Between it and what it touches: its film, or a contact that is next to none. */
static void find_channelled(network *net)
{
  static const double CONTACT = 1e5; /* W/(m2 K): a fiftieth of a millimetre of ice */
  for (size_t coil = 0; coil < net->rig->num_coils; coil++) {
    const rig_coil *c = &net->rig->coils[coil];
    if (!(c->conductance > 0.0))
      continue;
    net->pooled[c->part] = true;
    net->film[c->part] = c->outer_film > 0.0 ? c->outer_film : CONTACT;
  }
}

static void find_pools(network *net)
{
  for (size_t part = 0; part < net->rig->num_parts; part++)
    net->film[part] = NAN;
  for (size_t body = 0; body < net->rig->num_bodies; body++)
    if (net->rig->bodies[body].flow.kind == MOTION_STIRRED)
      net->film[net->rig->bodies[body].part] = net->rig->bodies[body].flow.film_coefficient;
  for (size_t bath = 0; bath < net->rig->num_baths; bath++) {
    const rig_bath *b = &net->rig->baths[bath];
    if (b->flow.kind != MOTION_STIRRED)
      continue;
    net->pooled[b->part] = true;
    net->film[b->part] = b->flow.film_coefficient;
  }
  find_channelled(net);
}

/* Volumes after pooling; the lowest-numbered node of a stirred bath carries all of it. */
static status fill_unknowns(network *net, message *msg)
{
  const mesh *m = net->mesh;
  int32_t *pool = malloc(((size_t)m->num_parts + 1) * sizeof *pool);
  if (!pool)
    return network_no_memory(msg, (size_t)m->num_parts, "parts");
  for (int32_t part = 0; part < m->num_parts; part++)
    pool[part] = -1;
  for (size_t node = 0; node < net->num_nodes; node++) {
    const int32_t part = m->volume[node] > 0.0 ? m->part[node] : MESH_VOID;
    size_t to = node;
    if (part >= 0 && net->pooled[part]) {
      if (pool[part] < 0)
        pool[part] = (int32_t)node;
      to = (size_t)pool[part];
    }
    net->unknown[node] = (int32_t)to;
    net->part[node] = to == node ? part : MESH_VOID;
    if (part >= 0)
      net->volume[to] += m->volume[node];
  }
  for (size_t p = 0; p < net->num_patches; p++) {
    const size_t at = net->num_nodes + p;
    net->unknown[at] = (int32_t)at;
    net->part[at] = m->patches[p].part;
    net->volume[at] = m->patches[p].area * m->patches[p].thickness;
  }
  for (size_t ring = 0; ring < net->num_rings; ring++) { /* shells take the place of nodes */
    const coil_shells *s = &net->rings[ring];
    for (size_t n = 0; n < s->num_inside; n++)
      net->volume[s->inside[n]] = 0.0;
    for (size_t i = 0; i < s->num; i++) {
      net->unknown[s->first + i] = (int32_t)(s->first + i);
      net->part[s->first + i] = s->part;
      net->volume[s->first + i] = s->volume[i];
    }
  }
  for (size_t l = 0; l < net->room_for_layers; l++) { /* layers of ice are no place of their own */
    net->unknown[net->first_layer + l] = (int32_t)(net->first_layer + l);
    net->part[net->first_layer + l] = MESH_VOID;
  }
  const size_t *num = m->grid->num;
  conductance_rows_even_out(net->volume, num[1] * num[2], num[0]);
  for (size_t at = 0; at < net->num_unknowns; at++) {
    net->inverse_volume[at] = net->volume[at] > 0.0 ? 1.0 / net->volume[at] : 0.0;
    net->horizontal[at] = net->vertical[at] = 1.0;
  }
  free(pool);
  return STATUS_OK;
}

/* Runs over the nodes of the mesh only: patches are not swept. */
static status fill_runs(network *net, message *msg)
{
  size_t num = 0;
  for (size_t node = 0; node < net->num_nodes; node++)
    num += node == 0 || net->part[node] != net->part[node - 1];
  net->runs = calloc(num + 1, sizeof *net->runs);
  net->run_part = calloc(num + 1, sizeof *net->run_part);
  if (!net->runs || !net->run_part)
    return network_no_memory(msg, num, "runs of nodes");
  for (size_t node = 0; node < net->num_nodes; node++) {
    if (node == 0 || net->part[node] != net->part[node - 1]) {
      net->run_part[net->num_runs] = net->part[node];
      net->runs[net->num_runs++] = (heat_potential_run){.begin = node};
    }
    net->runs[net->num_runs - 1].end = node + 1;
  }
  return STATUS_OK;
}

/* The same for potentials: absent nodes conduct nothing, so that any potential will do, and go with a neighbour's run. */
static status fill_potential_runs(network *net, message *msg)
{
  net->potential_runs = calloc(net->num_runs + 1, sizeof *net->potential_runs);
  net->potential_run_part = calloc(net->num_runs + 1, sizeof *net->potential_run_part);
  if (!net->potential_runs || !net->potential_run_part)
    return network_no_memory(msg, net->num_runs, "runs of nodes");
  for (size_t r = 0; r < net->num_runs; r++) {
    const int32_t part = net->run_part[r];
    const size_t last = net->num_potential_runs - 1; /* once there is one */
    if (net->num_potential_runs > 0 && (part < 0 || net->potential_run_part[last] < 0 || net->potential_run_part[last] == part)) {
      net->potential_runs[last].end = net->runs[r].end;
      net->potential_run_part[last] = part >= 0 ? part : net->potential_run_part[last];
    } else {
      net->potential_run_part[net->num_potential_runs] = part;
      net->potential_runs[net->num_potential_runs++] = net->runs[r];
    }
  }
  for (size_t r = 0; r < net->num_potential_runs; r++)
    net->potential_runs[r].curve = net->potential_run_part[r] >= 0 ? net->curve[net->potential_run_part[r]] : NULL;
  return STATUS_OK;
}

static bool anything_moves(const rig *r)
{
  for (size_t b = 0; b < r->num_bodies; b++)
    if (r->bodies[b].flow.kind != MOTION_NONE)
      return true;
  for (size_t b = 0; b < r->num_baths; b++)
    if (r->baths[b].flow.kind != MOTION_NONE)
      return true;
  return false;
}

static void fill_faces(network *net)
{
  const mesh *m = net->mesh;
  for (size_t f = 0; f < m->num_faces; f++) {
    const mesh_face *face = &m->faces[f];
    const int32_t left = net->unknown[face->left], right = net->unknown[face->right];
    if (left == right || !(net->volume[left] > 0.0 && net->volume[right] > 0.0))
      continue;
    const double g = face->area / face->distance;
    net->faces[net->num_faces++] = (face_entry){left, right, face->axis, g, g};
    net->still_sum[left] += g;
    net->still_sum[right] += g;
  }
}

/* ------------------------------------------------------------------------------------------- does every node touch something? */

static status refuse_lonely(const network *net, message *msg)
{
  bool *touched = calloc(net->num_unknowns + 1, sizeof *touched);
  if (!touched)
    return network_no_memory(msg, net->num_unknowns, "nodes");
  for (size_t node = 0; node < net->num_unknowns; node++)
    touched[node] = net->volume[node] <= 0.0 || net->still_sum[node] > 0.0 || node >= net->num_nodes;
  for (size_t f = 0; f < net->mesh->num_interfaces; f++)
    for (int s = 0; s < 2; s++)
      if (net->mesh->interfaces[f].node[s] >= 0)
        touched[net->unknown[net->mesh->interfaces[f].node[s]]] = true;
  status code = STATUS_OK;
  for (size_t node = 0; code == STATUS_OK && node < net->num_unknowns; node++)
    if (!touched[node])
      code = message_set(msg, STATUS_BAD_INPUT, "part %s: its piece of %g litres at (%g, %g, %g) m touches nothing, so no heat can reach it",
                         network_part_name(net, net->part[node]), 1000.0 * net->volume[node], net->mesh->centroid[node][0],
                         net->mesh->centroid[node][1], net->mesh->centroid[node][2]);
  free(touched);
  return code;
}

/* ------------------------------------------------------------------------------------------- what bounds the step */

static status find_entry_nodes(network *net, message *msg)
{
  bool *reached = calloc(net->num_unknowns + 1, sizeof *reached);
  net->entry_node = calloc(net->num_unknowns + 1, sizeof *net->entry_node);
  if (!reached || !net->entry_node) {
    free(reached);
    return network_no_memory(msg, net->num_unknowns, "nodes");
  }
  for (size_t i = 0; i < net->mesh->num_interfaces; i++)
    for (int s = 0; s < 2; s++)
      if (net->joints[i].node[s] >= 0)
        reached[net->joints[i].node[s]] = true;
  for (size_t n = 0; n < net->num_well_nodes; n++)
    reached[net->well_node[n]] = true;
  for (size_t n = 0; n < net->num_mix; n++)
    reached[net->mix_node[n]] = true;
  for (size_t ring = 0; ring < net->num_rings; ring++)
    for (size_t n = 0; n < net->rings[ring].num_rim; n++)
      reached[net->rings[ring].node[n]] = true;
  for (size_t f = 0; f < net->num_faces; f++)
    reached[net->faces[f].left] = reached[net->faces[f].right] = true;
  size_t num_skew;
  const int32_t *skew = network_skew_nodes(net, &num_skew);
  for (size_t n = 0; n < num_skew; n++)
    reached[skew[n]] = true;
  const size_t num_cells = grid_num_cells(net->mesh->grid);
  network_motion_sum_images(net, net->still_sum);
  for (size_t node = 0; node < net->num_nodes; node++) {
    if (reached[node]) {
      net->entry_node[net->num_entry_nodes++] = (int32_t)node;
      net->num_entry_cells += node < num_cells;
    }
    const double sum = net->still_sum[node] * net->inverse_volume[node];
    if (net->part[node] >= 0 && sum > net->still_most[net->part[node]])
      net->still_most[net->part[node]] = sum;
  }
  free(reached);
  memcpy(net->sum, net->still_sum, net->num_unknowns * sizeof *net->sum);
  const size_t num = net->num_unknowns + net->num_entry_cells;
  net->potential_memory = calloc(num + 2 * PAD, sizeof *net->potential_memory);
  net->gain = calloc(num + 1, sizeof *net->gain);
  if (!needed_cells_create(&net->entry_cells, net->entry_node, net->num_entry_cells) || !net->potential_memory || !net->gain)
    return network_no_memory(msg, num, "nodes and those at surfaces");
  net->potential = net->potential_memory + PAD;
  net->near = net->potential + net->num_unknowns;
  net->near_gain = net->gain + net->num_unknowns;
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------- all of it */

static status make_walls(network *net, message *msg)
{
  if (net->num_patches == 0)
    return STATUS_OK;
  network_walls_build(net);
  return wall_solve_create(&net->walls, net->num_patches, net->mesh->patch_links, net->mesh->num_patch_links,
                           net->mesh->grid->kind == GRID_RZ, msg);
}

static status make_front(network *net, message *msg)
{
  const size_t num_surfaces = 2 * net->mesh->num_interfaces;
  const size_t num_faces = net->num_faces + net->mesh->num_mirror_faces;
  front_cells_face *faces = calloc(num_faces + 1, sizeof *faces);
  int32_t *surface_node = calloc(num_surfaces + 1, sizeof *surface_node);
  net->face_moved = calloc(num_faces + 1, sizeof *net->face_moved);
  net->front_surface = calloc(num_surfaces + 1, sizeof *net->front_surface);
  net->front_nearer = calloc(num_surfaces + 1, sizeof *net->front_nearer);
  status code = STATUS_OK;
  if (!faces || !surface_node || !net->face_moved || !net->front_surface || !net->front_nearer) {
    code = network_no_memory(msg, num_faces, "faces");
  } else {
    for (size_t f = 0; f < net->num_faces; f++)
      faces[f] = (front_cells_face){net->faces[f].left, net->faces[f].right};
    for (size_t f = net->num_faces; f < num_faces; f++) {
      const int32_t node = net->unknown[net->mesh->mirror_faces[f - net->num_faces].node];
      faces[f] = (front_cells_face){node, node};
    }
    for (size_t i = 0; i < num_surfaces; i++) {
      const joint *j = &net->joints[i / 2];
      const bool shut = j->kind == JOINT_NONE || (j->kind == JOINT_WALL && !j->open[i % 2]);
      surface_node[i] = shut ? -1 : j->node[i % 2];
      net->front_nearer[i] = 1.0;
    }
    const front_cells_network n = {.rows = net->rows, .num_nodes = net->num_nodes, .num_parts = net->rig->num_parts, .part = net->part,
                                   .curve = net->curve, .excluded = net->pooled, .faces = faces, .num_faces = num_faces,
                                   .surface_node = surface_node, .num_surfaces = num_surfaces,
                                   .round_axis = net->mesh->grid->kind == GRID_RZ && !(net->mesh->grid->edges[0][0] > 0.0)};
    code = front_cells_create(&net->front, &n, msg);
  }
  free(faces);
  free(surface_node);
  return code;
}

static status check_parts(const network *net, message *msg)
{
  if ((size_t)net->mesh->num_parts != net->rig->num_parts)
    return message_set(msg, STATUS_BAD_INPUT, "the mesh has %d parts, the rig %zu", (int)net->mesh->num_parts, net->rig->num_parts);
  for (size_t part = 0; part < net->rig->num_parts; part++)
    if (!net->rig->parts[part].stuff && net->rig->parts[part].kind != PART_HELD)
      return message_set(msg, STATUS_BAD_INPUT, "part %s has no material", net->rig->parts[part].name);
  return STATUS_OK;
}

status network_build(network *net, message *msg)
{
  status code = check_parts(net, msg);
  if (code != STATUS_OK)
    return code;
  net->num_nodes = net->mesh->num_nodes;
  net->num_patches = net->mesh->num_patches;
  code = network_rings(net, net->num_nodes + net->num_patches, msg);
  if (code != STATUS_OK)
    return code;
  network_ice_count(net);
  net->first_layer = net->num_nodes + net->num_patches + net->num_shells;
  net->num_unknowns = net->first_layer + net->room_for_layers;
  net->path_name = calloc(2 * net->mesh->num_interfaces + net->rig->num_coils + 1, sizeof *net->path_name);
  if (!net->path_name)
    return network_no_memory(msg, net->mesh->num_interfaces, "heat paths");
  code = allocate(net, msg);
  if (code != STATUS_OK)
    return code;
  for (size_t part = 0; part < net->rig->num_parts; part++)
    net->curve[part] = net->rig->parts[part].stuff ? &net->rig->parts[part].stuff->curve : NULL;
  net->stage_room = NAN;
  find_pools(net);
  code = fill_unknowns(net, msg);
  if (code == STATUS_OK)
    code = fill_runs(net, msg);
  if (code == STATUS_OK)
    code = fill_potential_runs(net, msg);
  if (code == STATUS_OK)
    code = conductance_rows_create(&net->rows, net->mesh, net->inverse_volume, net->pooled, anything_moves(net->rig), msg);
  if (code == STATUS_OK) {
    conductance_rows_add_sums(net->rows, net->still_sum);
    fill_faces(net);
    code = network_joints_make(net, msg);
  }
  if (code == STATUS_OK)
    code = refuse_lonely(net, msg);
  if (code == STATUS_OK)
    code = make_walls(net, msg);
  if (code == STATUS_OK)
    code = network_wells_make(net, msg);
  if (code == STATUS_OK)
    code = network_tube_ice_make(net, msg);
  if (code == STATUS_OK)
    code = network_ice_make(net, msg);
  if (code == STATUS_OK)
    code = network_mix_make(net, msg);
  if (code == STATUS_OK)
    code = network_skew_make(net, msg);
  if (code == STATUS_OK)
    code = find_entry_nodes(net, msg);
  if (code == STATUS_OK && net->num_patches > 0)
    code = network_walls_make_sides(net, msg);
  if (code == STATUS_OK)
    code = make_front(net, msg);
  return code;
}
