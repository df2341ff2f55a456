#include "solver/rig.h"

#include <math.h>

static const double DAY = 86400.0, TURN = 6.283185307179586; /* s, 2 pi */

static double table_at(const schedule *s, double time)
{
  if (time <= s->time[0] || s->num == 1)
    return s->value[0];
  size_t low = 0, high = s->num - 1;
  if (time >= s->time[high])
    return s->value[high];
  while (high - low > 1) { /* time[low] <= time < time[high] */
    const size_t middle = (low + high) / 2;
    if (s->time[middle] <= time)
      low = middle;
    else
      high = middle;
  }
  const double span = s->time[high] - s->time[low];
  return s->value[low] + (s->value[high] - s->value[low]) * ((time - s->time[low]) / span);
}

double schedule_at(const schedule *s, double time)
{
  if (s->num == 0)
    return NAN;
  const double base = table_at(s, time);
  return s->swing > 0.0 ? base + s->swing * cos(TURN * (time - s->peak) / DAY) : base;
}
