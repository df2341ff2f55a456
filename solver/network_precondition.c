/* The preconditioner of Krylov methods. */
#include "solver/network_parts.h"

#include <math.h>
#include <string.h>

/* Diagonal incomplete factors of 1 - gamma J over the regular faces: A_ij = -gamma G_ij s_j / V_i,
 * pivot_i = A_ii - sum over j < i of A_ij A_ji / pivot_j (Saad 2003, Iterative Methods for Sparse Linear Systems, sec. 10.3.2). */
void network_precondition_set(network *net, const double *enthalpy, double gamma)
{
  net->gamma = gamma;
  const heat_flux_rows *rows = conductance_rows_view(net->rows);
  const size_t n = rows->num[0], num_rows = rows->num[1] * rows->num[2], stride[3] = {1, n, n * rows->num[1]};
  for (size_t i = 0; i < net->num_unknowns; i++) {
    const int32_t part = net->part[i];
    net->slope[i] = 0.0;
    if (part >= 0 && i < net->num_nodes) {
      const phase_curve *c = net->curve[part];
      const double delta = 1e-3 * (fabs(enthalpy[i]) + 1e6);
      net->slope[i] = (phase_curve_potential(c, enthalpy[i] + delta) - phase_curve_potential(c, enthalpy[i] - delta)) / (2.0 * delta);
    }
    net->pivot[i] = 1.0 + gamma * net->slope[i] * net->inverse_volume[i] * (net->sum[i] + net->entry_sum[i]);
  }
  for (size_t row = 0; row < num_rows; row++)
    for (size_t i = 0; i < n; i++) {
      const size_t cell = row * n + i;
      for (int axis = 0; axis < 3; axis++) {
        const double g = rows->conductance[axis] ? rows->conductance[axis][row][i + 1] : 0.0;
        const size_t up = cell + stride[axis];
        if (g > 0.0) { /* row `up` has cell before it */
          const double product = gamma * g * gamma * g * net->slope[cell] * net->slope[up] * net->inverse_volume[up] * net->inverse_volume[cell];
          net->pivot[up] -= product / net->pivot[cell];
        }
      }
    }
}

void network_precondition(const network *net, const double *b, double *x)
{
  const heat_flux_rows *rows = conductance_rows_view(net->rows);
  const size_t n = rows->num[0], num_rows = rows->num[1] * rows->num[2], stride[3] = {1, n, n * rows->num[1]};
  if (x != b)
    memcpy(x, b, net->num_unknowns * sizeof *x);
  for (size_t row = 0; row < num_rows; row++)
    for (size_t i = 0; i < n; i++) { /* forward: divide, then pass on to the later neighbours */
      const size_t cell = row * n + i;
      x[cell] /= net->pivot[cell];
      for (int axis = 0; axis < 3; axis++) {
        const double g = rows->conductance[axis] ? rows->conductance[axis][row][i + 1] : 0.0;
        if (g > 0.0)
          x[cell + stride[axis]] += net->gamma * g * net->slope[cell] * net->inverse_volume[cell + stride[axis]] * x[cell];
      }
    }
  for (size_t row = num_rows; row-- > 0;)
    for (size_t i = n; i-- > 0;) { /* backward */
      const size_t cell = row * n + i;
      double later = 0.0;
      for (int axis = 0; axis < 3; axis++) {
        const double g = rows->conductance[axis] ? rows->conductance[axis][row][i + 1] : 0.0;
        if (g > 0.0)
          later += g * net->slope[cell + stride[axis]] * x[cell + stride[axis]];
      }
      x[cell] += net->gamma * net->inverse_volume[cell] * later / net->pivot[cell];
    }
  for (size_t i = n * num_rows; i < net->num_unknowns; i++)
    x[i] /= net->pivot[i];
}
