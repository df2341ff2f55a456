/* The bound on the eigenvalues of a network, and the lags that follow from it. */
#include "solver/network_parts.h"

#include <float.h>
#include <math.h>
#include <string.h>

/* A node may be this much colder or warmer at the end of a step than any of its part was at the start, K, before the bound on
 * the eigenvalues could be too low; heat_step looks again after the step. */
static const double RANGE_MARGIN = 1.0;
/* Longest lag of the carried wall heat, s. */
static const double LONGEST_WALL_LAG = 60.0;
/* Longest lag of the shells round a tube, in a^2 / (du/dH). */
static const double LONGEST_SHELL_LAG = 0.15;
static const double ROUNDING = 1e-9; /* of a row's sum: two sums of the same conductances, one with the factors of a liquid at rest */
enum { LANES = NETWORK_STRANDS };

typedef struct {
  double low, high;
} range;

static void widen(double *low, double *high, range r)
{
  *low = r.low < *low ? r.low : *low;
  *high = r.high > *high ? r.high : *high;
}

/* Widens the LANES strands of a part over one of its runs. */
static void widen_strands(double *low, double *high, const double *enthalpy, size_t num)
{
  double least[LANES], most[LANES];
  memcpy(least, low, sizeof least);
  memcpy(most, high, sizeof most);
  size_t i = 0;
  for (; i + LANES <= num; i += LANES) {
#pragma omp simd
    for (size_t l = 0; l < LANES; l++) {
      const double h = enthalpy[i + l];
      least[l] = h < least[l] ? h : least[l];
      most[l] = h > most[l] ? h : most[l];
    }
  }
  for (size_t l = 0; i < num; i++, l++) {
    least[l] = enthalpy[i] < least[l] ? enthalpy[i] : least[l];
    most[l] = enthalpy[i] > most[l] ? enthalpy[i] : most[l];
  }
  memcpy(low, least, sizeof least);
  memcpy(high, most, sizeof most);
}

/* Least and most of each part over the share `share` of the runs, in strands of its own. */
static void range_of_share(network *net, size_t share, size_t num_shares, const double *enthalpy)
{
  const size_t strands = (size_t)net->mesh->num_parts * LANES;
  double *low = net->low + share * strands, *high = net->high + share * strands;
  for (size_t l = 0; l < strands; l++) {
    low[l] = DBL_MAX;
    high[l] = -DBL_MAX;
  }
  for (size_t r = share * net->num_runs / num_shares; r < (share + 1) * net->num_runs / num_shares; r++) {
    const size_t begin = net->runs[r].begin, part = (size_t)net->run_part[r] * LANES;
    if (net->run_part[r] >= 0)
      widen_strands(low + part, high + part, enthalpy + begin, net->runs[r].end - begin);
  }
}

/* A part's enthalpies over all strands of all shares. */
static range whole_range(const network *net, int32_t part, size_t num_shares)
{
  range all = {DBL_MAX, -DBL_MAX};
  for (size_t share = 0; share < num_shares; share++)
    for (size_t l = 0; l < LANES; l++) {
      const size_t at = (share * (size_t)net->mesh->num_parts + (size_t)part) * LANES + l;
      widen(&all.low, &all.high, (range){net->low[at], net->high[at]});
    }
  return all;
}

static double steepest_between(const phase_curve *c, double low, double high)
{
  if (!c || low > high)
    return 0.0;
  return phase_curve_steepest(c, phase_curve_temperature(c, low) - RANGE_MARGIN, phase_curve_temperature(c, high) + RANGE_MARGIN);
}

void network_bound_steepest(network *net, const double *enthalpy)
{
  const size_t num_shares = net->num_nodes < HEAT_FLUX_THREADED ? 1 : NETWORK_SHARES;
#pragma omp parallel for schedule(static) if (num_shares > 1)
  for (size_t share = 0; share < num_shares; share++)
    range_of_share(net, share, num_shares, enthalpy);
  for (int32_t part = 0; part < net->mesh->num_parts; part++) {
    const range all = whole_range(net, part, num_shares);
    net->steepest[part] = steepest_between(net->curve[part], all.low, all.high);
  }
}

static double sum_at_rest(const network *net, size_t node)
{
  return (net->still_sum[node] + net->entry_still[node]) * net->inverse_volume[node];
}

static double sum_in_motion(const network *net, size_t node)
{
  return (net->sum[node] + net->entry_sum[node]) * net->inverse_volume[node];
}

/* No margin below: what moves is liquid, and no colder than its own freezing. */
static double steepest_of_liquid(const phase_curve *c, double low, double high)
{
  if (c->three_lines && low > c->liquid_enthalpy)
    return c->liquid_potential_slope;
  return phase_curve_steepest(c, phase_curve_temperature(c, low), phase_curve_temperature(c, high) + RANGE_MARGIN);
}

/* Rows whose faces carry liquid in motion. Of a liquid that freezes at one temperature two kinds are told apart: what is liquid throughout
 * has the slope of liquid; what freezes (`freezing`: holds ice, and may be all ice before the step ends) or has just become all ice, while
 * its faces still move, that of ice. */
static void find_moving_rows(network *net, const double *enthalpy, bool freezing)
{
  const size_t num_parts = (size_t)net->mesh->num_parts;
  memset(net->most_moving, 0, num_parts * sizeof *net->most_moving);
  memset(net->most_icing, 0, num_parts * sizeof *net->most_icing);
  memset(net->steepest_moving, 0, num_parts * sizeof *net->steepest_moving);
  if (!net->moving)
    return;
  for (size_t part = 0; part < num_parts; part++) {
    net->low_moving[part] = DBL_MAX;
    net->high_moving[part] = -DBL_MAX;
  }
  for (size_t node = 0; node < net->num_nodes; node++) {
    const double sum = net->liquid[node] ? sum_in_motion(net, node) : 0.0;
    if (!net->liquid[node] || !(sum > (1.0 + ROUNDING) * sum_at_rest(net, node)))
      continue;
    const size_t part = (size_t)net->part[node];
    const phase_curve *c = net->curve[part];
    const double h = enthalpy[node];
    if (h <= c->liquid_enthalpy && front_cells_is_sharp(net->front, net->part[node])) {
      if (freezing || h <= c->solid_enthalpy)
        net->most_icing[part] = larger(net->most_icing[part], sum);
      continue;
    }
    net->most_moving[part] = larger(net->most_moving[part], sum);
    widen(&net->low_moving[part], &net->high_moving[part], (range){h, h});
  }
  for (size_t part = 0; part < num_parts; part++) {
    const phase_curve *c = net->curve[part];
    if (c && net->low_moving[part] <= net->high_moving[part])
      net->steepest_moving[part] = steepest_of_liquid(c, net->low_moving[part], net->high_moving[part]);
  }
}

/* Without motion only the nodes that entries reach need a look; the rest is known per part. */
void network_bound_sums(network *net, const double *enthalpy)
{
  memcpy(net->most, net->still_most, (size_t)net->mesh->num_parts * sizeof *net->most);
  for (size_t n = 0; n < net->num_entry_nodes; n++) {
    const size_t node = (size_t)net->entry_node[n];
    if (net->entry_still[node] > 0.0 && net->part[node] >= 0) /* without entries it is in still_most */
      net->most[net->part[node]] = larger(net->most[net->part[node]], sum_at_rest(net, node));
  }
  find_moving_rows(net, enthalpy, true);
}

/* Row sums of V^-1 S G, similar to the Jacobian V^-1 G S (S = du/dH): twice the diagonal bounds every eigenvalue (Gershgorin). */
double network_bound_nodes(const network *net)
{
  double largest = 0.0;
  for (int32_t part = 0; part < net->mesh->num_parts; part++)
    largest = larger(largest, 2.0 * larger(net->steepest[part] * larger(net->most[part], net->most_icing[part]),
                                           net->steepest_moving[part] * net->most_moving[part]));
  return largest;
}

/* The wall's own lag follows from the nodes' bound: as slow as costs no stages, but never slower than LONGEST_WALL_LAG. */
double network_bound_wall_lag(double bound)
{
  const double lag = bound > 0.0 ? 2.0 / bound : LONGEST_WALL_LAG;
  return lag < LONGEST_WALL_LAG ? lag : LONGEST_WALL_LAG;
}

/* Lag of the shells: as slow as costs no stages, but never slower than a share of the time in which heat crosses a tube's radius. */
double network_bound_shell_lag(const network *net, double bound)
{
  double lag = bound > 0.0 ? 2.0 / bound : INFINITY;
  for (size_t ring = 0; ring < net->num_rings; ring++) {
    const coil_shells *s = &net->rings[ring];
    lag = smaller(lag, LONGEST_SHELL_LAG * s->edge[0] * s->edge[0] / net->steepest[s->part]);
  }
  return lag;
}

double network_bound_all(const network *net)
{
  const double nodes = network_bound_nodes(net);
  return net->num_rings > 0 ? larger(nodes, 2.0 / net->shell_lag) : nodes;
}

double network_bound(network *net, const double *enthalpy)
{
  network_bound_steepest(net, enthalpy);
  find_moving_rows(net, enthalpy, false);
  return larger(network_bound_all(net), network_ice_bound(net)) + net->mix_rate;
}
