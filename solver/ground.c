#include "solver/ground.h"

#include <math.h>

static const double PI = 3.14159265358979323846;
static const double FILM_ABOVE = 0.17, FILM_OUTSIDE = 0.04; /* m2 K/W */

double ground_disc(double area, double conductivity)
{
  return 4.0 * sqrt(area / PI) * conductivity / area;
}

double ground_slab_transmittance(const ground_slab *g)
{
  const double width = g->area / (0.5 * g->perimeter), thickness = g->wall + g->conductivity * (FILM_ABOVE + g->insulation + FILM_OUTSIDE);
  if (thickness < width)
    return 2.0 * g->conductivity / (PI * width + thickness) * log(PI * width / thickness + 1.0);
  return g->conductivity / (0.457 * width + thickness);
}
