/* What two-point fluxes leave out beside slanting surfaces.
 *
 * Two nodes of which a slanting surface cuts one do not lie opposite each other: the way D between their centroids is not along the
 * axis e of their face. G (u_left - u_right), with the mesh's distance d, sees the gradient along D / d; what the face conducts is the
 * gradient along e. For an even gradient g the flux is therefore, exactly,
 *     G (u_left - u_right + g . (D - d e)),
 * the cross diffusion of finite volumes on meshes that are not orthogonal (Ferziger & Peric 2002, Computational Methods for Fluid
 * Dynamics, 8.6). g is the mean over the two nodes of least-squares gradients from their neighbours, their images behind mirror planes
 * and the heat through their surfaces, divided by the factor of a liquid that moves: it needs so much less of a gradient. (Undivided, brine below a metal
 * pot swung from step to step by 40 MJ/m3.) g is found at every refresh and stays for the step, like all coefficients; being heat from one
 * node to the other it leaves the books alone. Measured on a cone with a film (height 0.8 R, 20 cells): freezing time +1.1 % without, first
 * order in the spacing; below 0.1 % with it. */
#include "solver/network_parts.h"

#include <stdlib.h>
#include <string.h>

/* Nodes in a tip see neighbours in one direction only: along the others the gradient is held to nothing by this share of the weights. */
static const double RIDGE = 1e-3;
enum { MANY_NODES = 4096 };

typedef struct { int32_t other; double weight[3]; } neighbour_term;  /* of the gradient, 1/m: weight (u_other - u_node)  */
typedef struct { size_t place; bool upright; double weight[3]; } surface_term; /* weight times heat into the node, W; place: 2 * interface + side */
typedef struct { int32_t left, right, axis; double conductance, skew[3]; } skew_face; /* left, right: index of gradient nodes */

struct network_skew {
  size_t num_faces, num_nodes;
  skew_face *faces;
  int32_t *node;                       /* [num_nodes] unknowns whose gradient is asked for, rising       */
  uint32_t *first_term, *first_surface; /* [num_nodes + 1] */
  neighbour_term *terms;
  surface_term *surfaces;
  double (*gradient)[3];               /* [num_nodes] of u, W/m2 */
  double *heat;                        /* [num_nodes] W into the node, over the step */
};

void network_skew_destroy(network_skew **skew)
{
  network_skew *s = *skew;
  if (!s)
    return;
  void *owned[] = {s->faces, s->node, s->first_term, s->first_surface, s->terms, s->surfaces, s->gradient, s->heat};
  for (size_t i = 0; i < sizeof owned / sizeof *owned; i++)
    free(owned[i]);
  free(s);
  *skew = NULL;
}

/* ------------------------------------------------------------------------------------------- making */

static bool conducts(const network *net, int32_t node)
{
  return net->unknown[node] == node && net->volume[node] > 0.0 && !(net->num_mix > 0 && net->mix_state[node] != 0);
}

/* index[node]: of the gradient nodes, -1: none. */
static void number_nodes(network_skew *s, const network *net, int32_t *index)
{
  for (size_t f = 0; f < net->mesh->num_skew_faces; f++) {
    const mesh_skew_face *x = &net->mesh->skew_faces[f];
    if (conducts(net, x->left) && conducts(net, x->right))
      index[x->left] = index[x->right] = 0;
  }
  for (size_t node = 0; node < net->num_nodes; node++)
    if (index[node] == 0) {
      index[node] = (int32_t)s->num_nodes;
      s->node[s->num_nodes++] = (int32_t)node;
    }
  for (size_t f = 0; f < net->mesh->num_skew_faces; f++) {
    const mesh_skew_face *x = &net->mesh->skew_faces[f];
    if (conducts(net, x->left) && conducts(net, x->right))
      s->faces[s->num_faces++] = (skew_face){.left = index[x->left], .right = index[x->right], .axis = x->axis, .conductance = x->conductance,
                                             .skew = {x->skew[0], x->skew[1], x->skew[2]}};
  }
}

/* Weights times outer products, and the terms before they are multiplied by the inverse. */
typedef struct {
  const network *net;
  network_skew *s;
  const int32_t *index;
  double (*square)[3][3]; /* [num_nodes] */
  uint32_t *next;         /* [num_nodes] where the next term of a node goes; NULL: terms are counted only */
} gathering;

static void take_neighbour(gathering *q, int32_t node, int32_t other, double conductance)
{
  const int32_t row = q->index[node];
  if (row < 0 || !conducts(q->net, other))
    return;
  if (!q->next) {
    q->s->first_term[row + 1]++;
    return;
  }
  double way[3], square = 0.0;
  for (int a = 0; a < 3; a++) {
    way[a] = q->net->mesh->centroid[other][a] - q->net->mesh->centroid[node][a];
    square += way[a] * way[a];
  }
  const double weight = conductance / sqrt(square); /* area over the square of the way */
  neighbour_term *t = &q->s->terms[q->next[row]++];
  t->other = other;
  for (int a = 0; a < 3; a++) {
    t->weight[a] = weight * way[a];
    for (int b = 0; b < 3; b++)
      q->square[row][a][b] += weight * way[a] * way[b];
  }
}

static void gather_neighbours(gathering *q)
{
  const mesh *m = q->net->mesh;
  const size_t num_cells = grid_num_cells(m->grid), stride[3] = {1, m->grid->num[0], m->grid->num[0] * m->grid->num[1]};
  for (int axis = 0; axis < 3; axis++)
    for (size_t c = 0; m->regular[axis] && c + stride[axis] < num_cells; c++)
      if (m->regular[axis][c] > 0.0) {
        take_neighbour(q, (int32_t)c, (int32_t)(c + stride[axis]), m->regular[axis][c]);
        take_neighbour(q, (int32_t)(c + stride[axis]), (int32_t)c, m->regular[axis][c]);
      }
  for (size_t f = 0; f < m->num_faces; f++) {
    take_neighbour(q, m->faces[f].left, m->faces[f].right, m->faces[f].area / m->faces[f].distance);
    take_neighbour(q, m->faces[f].right, m->faces[f].left, m->faces[f].area / m->faces[f].distance);
  }
}

/* An image has the node's own u. */
static void gather_images(gathering *q)
{
  for (size_t f = 0; f < q->net->mesh->num_mirror_faces; f++) {
    const mesh_mirror_face *x = &q->net->mesh->mirror_faces[f];
    if (q->index[x->node] >= 0)
      q->square[q->index[x->node]][x->axis][x->axis] += x->area;
  }
}

/* g . n = - heat out of the node / area. */
static void gather_surfaces(gathering *q)
{
  const mesh *m = q->net->mesh;
  for (size_t place = 0; place < 2 * m->num_interfaces; place++) {
    const mesh_interface *f = &m->interfaces[place / 2];
    const int32_t node = f->node[place % 2], row = node >= 0 ? q->index[node] : -1;
    if (row < 0)
      continue;
    if (!q->next) {
      q->s->first_surface[row + 1]++;
      continue;
    }
    surface_term *t = &q->s->surfaces[q->next[row]++];
    t->place = place;
    t->upright = network_ends_upright(f);
    mesh_outward(f, (int)(place % 2), t->weight);
    for (int a = 0; a < 3; a++)
      for (int b = 0; b < 3; b++)
        q->square[row][a][b] += f->area[place % 2] * t->weight[a] * t->weight[b];
  }
}

static void invert(double m[3][3], double out[3][3])
{
  double minor[3][3], determinant = 0.0;
  for (int i = 0; i < 3; i++)
    for (int j = 0; j < 3; j++) {
      const int a = (i + 1) % 3, b = (i + 2) % 3, c = (j + 1) % 3, d = (j + 2) % 3;
      minor[i][j] = m[a][c] * m[b][d] - m[a][d] * m[b][c];
    }
  for (int j = 0; j < 3; j++)
    determinant += m[0][j] * minor[0][j];
  for (int i = 0; i < 3; i++)
    for (int j = 0; j < 3; j++)
      out[i][j] = minor[j][i] / determinant;
}

static void multiply(double m[3][3], double v[3])
{
  const double x[3] = {v[0], v[1], v[2]};
  for (int a = 0; a < 3; a++)
    v[a] = m[a][0] * x[0] + m[a][1] * x[1] + m[a][2] * x[2];
}

static void solve_rows(gathering *q)
{
  network_skew *s = q->s;
  for (size_t row = 0; row < s->num_nodes; row++) {
    double inverse[3][3];
    const double trace = q->square[row][0][0] + q->square[row][1][1] + q->square[row][2][2];
    for (int a = 0; a < 3; a++)
      q->square[row][a][a] += RIDGE * trace;
    invert(q->square[row], inverse);
    for (uint32_t t = s->first_term[row]; t < s->first_term[row + 1]; t++)
      multiply(inverse, s->terms[t].weight);
    for (uint32_t t = s->first_surface[row]; t < s->first_surface[row + 1]; t++)
      multiply(inverse, s->surfaces[t].weight);
  }
}

static void add_up(uint32_t *first, size_t num)
{
  for (size_t i = 0; i < num; i++)
    first[i + 1] += first[i];
}

static bool gather(network_skew *s, const network *net, const int32_t *index)
{
  gathering q = {.net = net, .s = s, .index = index, .square = calloc(s->num_nodes + 1, sizeof *q.square)};
  s->first_term = calloc(s->num_nodes + 2, sizeof *s->first_term);
  s->first_surface = calloc(s->num_nodes + 2, sizeof *s->first_surface);
  s->gradient = calloc(s->num_nodes + 1, sizeof *s->gradient);
  s->heat = calloc(s->num_nodes + 1, sizeof *s->heat);
  uint32_t *next = malloc((s->num_nodes + 1) * sizeof *next);
  bool done = q.square && s->first_term && s->first_surface && s->gradient && s->heat && next;
  if (done) {
    gather_neighbours(&q);
    gather_surfaces(&q);
    add_up(s->first_term, s->num_nodes);
    add_up(s->first_surface, s->num_nodes);
    s->terms = malloc((s->first_term[s->num_nodes] + 1) * sizeof *s->terms);
    s->surfaces = malloc((s->first_surface[s->num_nodes] + 1) * sizeof *s->surfaces);
    done = s->terms && s->surfaces;
  }
  if (done) {
    q.next = memcpy(next, s->first_term, s->num_nodes * sizeof *next);
    gather_neighbours(&q);
    gather_images(&q);
    q.next = memcpy(next, s->first_surface, s->num_nodes * sizeof *next);
    gather_surfaces(&q);
    solve_rows(&q);
  }
  free(next);
  free(q.square);
  return done;
}

status network_skew_make(network *net, message *msg)
{
  const size_t most = net->mesh->num_skew_faces;
  network_skew *s = net->skew = calloc(1, sizeof *s);
  int32_t *index = malloc((net->num_nodes + 1) * sizeof *index);
  bool done = s && index;
  if (done) {
    s->faces = malloc((most + 1) * sizeof *s->faces);
    s->node = malloc((2 * most + 1) * sizeof *s->node);
    done = s->faces && s->node;
  }
  if (done) {
    memset(index, 0xff, net->num_nodes * sizeof *index);
    number_nodes(s, net, index);
    done = gather(s, net, index);
  }
  free(index);
  return done ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory for %zu slanting faces", most);
}

const int32_t *network_skew_nodes(const network *net, size_t *num)
{
  *num = net->skew->num_nodes;
  return net->skew->node;
}

/* ------------------------------------------------------------------------------------------- use */

/* Nodes of the front offer what their ramps say. */
static void show_front(network *net, const double *enthalpy)
{
  const heat_potential_front *front = front_cells_front(net->front);
  for (size_t i = 0; i < front->num; i++) {
    const heat_potential_ramp *r = heat_potential_front_ramp(front, i);
    if (enthalpy[r->node] > r->end && enthalpy[r->node] < r->begin)
      net->potential[r->node] = heat_potential_ramp_at(r, enthalpy[r->node]);
  }
}

static void find_gradient(const network *net, size_t row)
{
  const network_skew *s = net->skew;
  const int32_t node = s->node[row];
  const double *u = net->potential, own = u[node];
  const bool moves = net->moving && net->liquid[node] && !network_motion_offers_ice(net, node); /* then u falls by less for the same heat */
  double *g = s->gradient[row];
  memset(g, 0, sizeof s->gradient[row]);
  for (uint32_t t = s->first_term[row]; t < s->first_term[row + 1]; t++)
    for (int a = 0; a < 3; a++)
      g[a] += s->terms[t].weight[a] * (u[s->terms[t].other] - own);
  for (uint32_t t = s->first_surface[row]; t < s->first_surface[row + 1]; t++) {
    const front_cells_surface *face = &net->front_surface[s->surfaces[t].place];
    const double factor = !moves ? 1.0 : s->surfaces[t].upright ? net->horizontal[node] : net->vertical[node];
    const double into = -(face->conductance * own + face->heat) / factor;
    for (int a = 0; a < 3; a++)
      g[a] += s->surfaces[t].weight[a] * into;
  }
}

void network_skew_refresh(network *net, const double *enthalpy)
{
  network_skew *s = net->skew;
  if (s->num_faces == 0)
    return;
  show_front(net, enthalpy);
#pragma omp parallel for schedule(static) if (s->num_nodes >= MANY_NODES)
  for (size_t row = 0; row < s->num_nodes; row++)
    find_gradient(net, row);
  memset(s->heat, 0, s->num_nodes * sizeof *s->heat);
  for (size_t f = 0; f < s->num_faces; f++) {
    const skew_face *x = &s->faces[f];
    const double *left = s->gradient[x->left], *right = s->gradient[x->right];
    const face_entry face = {.left = s->node[x->left], .right = s->node[x->right], .axis = x->axis};
    double along = 0.0;
    for (int a = 0; a < 3; a++)
      along += 0.5 * (left[a] + right[a]) * x->skew[a];
    const double q = x->conductance * (net->moving ? network_motion_beside_front(net, &face) : 1.0) * along;
    s->heat[x->left] -= q;
    s->heat[x->right] += q;
  }
}

void network_skew_add(const network *net, double scale, double *target)
{
  const network_skew *s = net->skew;
  for (size_t row = 0; row < s->num_nodes; row++)
    target[s->node[row]] += scale * s->heat[row] * net->inverse_volume[s->node[row]];
}
