#include "io/run_cost.h"

#include <math.h>
#include <unistd.h>

/* Measured, one thread, pictures included. In (r, z), rigs with a bath: 75, 81, 93 MB and 2.3, 4.8, 13 s at 1.7, 11, 39 thousand cells.
 * In (x, y, z): a tub with thick walls 49, 82 MB and 2.5, 6.9 s at 20, 80 thousand cells; three thin-walled moulds in air 46 MB and 5.2 s at 12
 * thousand; a thin-walled mould in a still bath with a coil 105 MB and 19 s at 38 thousand. */
static const double BASE = 75e6, SHARE = 0.75; /* bytes; of the machine's memory */

static double per_cell(const run_cost_rig *r)
{
  return r->revolved ? 450.0 : r->bath ? 1500.0 : 700.0;
}

double run_cost_memory(const run_cost_rig *r, double cells)
{
  return BASE + per_cell(r) * cells;
}

double run_cost_duration(const run_cost_rig *r, double cells)
{
  if (r->revolved)
    return 2.0 + 2.0 * pow(cells / 12.7e3, 1.3);
  return 1.5 + 4.0 * pow(cells / 60e3, 1.15) * (r->thin_walls ? 2.5 : 1.0) * (r->bath ? 3.0 : 1.0);
}

double run_cost_have(void)
{
  const double pages = (double)sysconf(_SC_PHYS_PAGES), size = (double)sysconf(_SC_PAGESIZE);
  return pages > 0.0 && size > 0.0 ? pages * size : INFINITY;
}

bool run_cost_fits(const run_cost_rig *r, double cells, double have, double *most)
{
  *most = floor(fmax(0.0, SHARE * have - BASE) / per_cell(r));
  return cells <= *most;
}
