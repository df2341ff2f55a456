#include "solver/rig.h"

#include <math.h>

double schedule_at(const schedule *s, double time)
{
  if (s->num == 0)
    return NAN;
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
