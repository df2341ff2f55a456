#include "io/plan_points.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/sobol.h"
#include "io/text_hash.h"

struct plan_points {
  const plan_file *plan;
  size_t num, num_cases;
  uint32_t *order;   /* latin_hypercube: [num_inputs * num] the stratum of each point; else NULL */
  uint32_t *which;   /* [num] the case of each point                                            */
  uint32_t *first;   /* [num_cases] its first point                                             */
};

/* ------------------------------------------------------------------------------------------------ how many */

static size_t grid_count(const plan_file *p)
{
  size_t num = 1;
  for (size_t i = 0; i < p->num_inputs; i++) {
    if (p->inputs[i].num_levels == 0 || num > SIZE_MAX / p->inputs[i].num_levels)
      return SIZE_MAX;
    num *= p->inputs[i].num_levels;
  }
  return num;
}

size_t plan_points_count(const plan_file *p)
{
  size_t num = 1; /* one at a time: the case itself first */
  switch (p->design) {
  case DESIGN_GRID: return grid_count(p);
  case DESIGN_ONE_AT_A_TIME:
    for (size_t i = 0; i < p->num_inputs; i++)
      num += p->inputs[i].num_levels;
    return num;
  case DESIGN_LATIN_HYPERCUBE:
  case DESIGN_SOBOL: break;
  }
  return p->points;
}

/* ------------------------------------------------------------------------------------------------ random numbers */

/* Splitmix64: G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014. */
static uint64_t random_bits(uint64_t seed, uint64_t number)
{
  uint64_t z = seed + (number + 1) * 0x9E3779B97F4A7C15u;
  z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
  z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
  return z ^ (z >> 31);
}

static double random_share(uint64_t seed, uint64_t number)
{
  return (double)(random_bits(seed, number) >> 11) / 9007199254740992.0;
}

/* A shuffle of 0 ... num - 1 for each input (Fisher and Yates, as in Knuth, The Art of Computer Programming, vol. 2, 3.4.2). */
static void shuffle(uint32_t *order, size_t num, uint64_t seed)
{
  for (size_t i = 0; i < num; i++)
    order[i] = (uint32_t)i;
  for (size_t i = num; i > 1; i--) {
    const size_t j = (size_t)(random_bits(seed, i) % i);
    const uint32_t kept = order[i - 1];
    order[i - 1] = order[j];
    order[j] = kept;
  }
}

/* ------------------------------------------------------------------------------------------------ values */

/* Where an input of a sampled design stands, 0 to 1. */
static double share_of(const plan_points *pts, size_t point, size_t input)
{
  const plan_file *p = pts->plan;
  if (p->design == DESIGN_SOBOL)
    return sobol_coordinate(input, point + 1); /* the origin, a corner, is left out */
  const double within = random_share(p->seed ^ (0xA5A5A5A5u + input * 7919u), point);
  return ((double)pts->order[input * pts->num + point] + within) / (double)pts->num;
}

/* Level of an input in a grid (the last input changes fastest) or one at a time; SIZE_MAX: the case's own. */
static size_t level_of(const plan_points *pts, size_t point, size_t input)
{
  const plan_file *p = pts->plan;
  if (p->design == DESIGN_GRID) {
    for (size_t i = p->num_inputs; i-- > input + 1;)
      point /= p->inputs[i].num_levels;
    return point % p->inputs[input].num_levels;
  }
  size_t before = 1;
  for (size_t i = 0; i < input; i++)
    before += p->inputs[i].num_levels;
  return point >= before && point < before + p->inputs[input].num_levels ? point - before : SIZE_MAX;
}

static bool base_value(const plan_input *in, char text[PLAN_POINTS_VALUE], double *number)
{
  (void)snprintf(text, PLAN_POINTS_VALUE, "%.250s", in->base ? in->base : "");
  if (number)
    *number = in->base_number;
  return true;
}

bool plan_points_value(const plan_points *pts, size_t point, size_t input, char text[PLAN_POINTS_VALUE], double *number)
{
  const plan_file *p = pts->plan;
  const plan_input *in = &p->inputs[input];
  size_t level = SIZE_MAX;
  if (p->design == DESIGN_GRID || p->design == DESIGN_ONE_AT_A_TIME) {
    level = level_of(pts, point, input);
    if (level == SIZE_MAX)
      return base_value(in, text, number);
  } else if (in->num_levels) {
    level = (size_t)(share_of(pts, point, input) * (double)in->num_levels);
    level = level < in->num_levels ? level : in->num_levels - 1;
  }
  if (level != SIZE_MAX) {
    (void)snprintf(text, PLAN_POINTS_VALUE, "%.250s", in->level[level]);
    if (number)
      *number = in->level_number[level];
    return false;
  }
  const double share = share_of(pts, point, input);
  const double value = in->ratio ? in->low * pow(in->high / in->low, share) : in->low + share * (in->high - in->low);
  quantity q;
  plan_file_number_text(in, value, text, PLAN_POINTS_VALUE);
  if (number)
    *number = quantity_parse(p->units, in->what->kind, text, &q, NULL) == STATUS_OK ? q.value : NAN;
  return false;
}

/* ------------------------------------------------------------------------------------------------ equal points */

/* Equal for points whose every input has the same value: numbers to twelve digits (8 cm is 80 mm), words letter by letter. */
static uint64_t name_of(const plan_points *pts, size_t point)
{
  char text[PLAN_POINTS_VALUE], all[PLAN_POINTS_VALUE + 8];
  uint64_t h = 1u;
  for (size_t i = 0; i < pts->plan->num_inputs; i++) {
    double number;
    (void)plan_points_value(pts, point, i, text, &number);
    if (isnan(number))
      (void)snprintf(all, sizeof all, "t%s", text);
    else
      (void)snprintf(all, sizeof all, "n%.12g", number == 0.0 ? 0.0 : number);
    h = (h ^ text_hash_bytes(all, strlen(all))) * 0x9E3779B97F4A7C15u + i;
  }
  return h;
}

static status find_cases(plan_points *pts, message *msg)
{
  size_t room = 64;
  while (room < 2 * pts->num)
    room *= 2;
  uint64_t *names = malloc(room * sizeof *names);
  uint32_t *who = malloc(room * sizeof *who);
  if (!names || !who) {
    free(names);
    free(who);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for %zu points", pts->num);
  }
  memset(who, 0xFF, room * sizeof *who);
  for (size_t point = 0; point < pts->num; point++) {
    const uint64_t name = name_of(pts, point);
    size_t i = (size_t)(name & (room - 1));
    while (who[i] != UINT32_MAX && names[i] != name)
      i = (i + 1) & (room - 1);
    if (who[i] == UINT32_MAX) {
      names[i] = name;
      who[i] = (uint32_t)pts->num_cases;
      pts->first[pts->num_cases++] = (uint32_t)point;
    }
    pts->which[point] = who[i];
  }
  free(names);
  free(who);
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------------ life */

static status refuse(const plan_file *p, size_t num, bool yes, message *msg)
{
  if (num > UINT32_MAX - 1)
    return message_set(msg, STATUS_BAD_INPUT, "%s: the plan has more points than can be counted; leave out steps or inputs", p->path);
  if (num > PLAN_POINTS_UNASKED && !yes)
    return message_set(msg, STATUS_BAD_INPUT, "%s: the plan has %zu points, more than a million; --yes runs them all the same", p->path, num);
  if (p->design == DESIGN_SOBOL && p->num_inputs > SOBOL_DIMENSIONS)
    return message_set(msg, STATUS_BAD_INPUT, "%s: %zu inputs vary; Sobol points go up to %d, latin_hypercube has no such bound", p->path,
                       p->num_inputs, SOBOL_DIMENSIONS);
  return STATUS_OK;
}

status plan_points_create(plan_points **out, const plan_file *p, bool yes, message *msg)
{
  const size_t num = plan_points_count(p);
  status code = refuse(p, num, yes, msg);
  if (code != STATUS_OK)
    return code;
  plan_points *pts = calloc(1, sizeof *pts);
  if (pts) {
    *pts = (plan_points){.plan = p, .num = num};
    pts->which = malloc(num * sizeof *pts->which);
    pts->first = malloc(num * sizeof *pts->first);
    if (p->design == DESIGN_LATIN_HYPERCUBE)
      pts->order = malloc(p->num_inputs * num * sizeof *pts->order);
  }
  if (!pts || !pts->which || !pts->first || (p->design == DESIGN_LATIN_HYPERCUBE && !pts->order)) {
    plan_points_destroy(&pts);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for %zu points", num);
  }
  for (size_t i = 0; pts->order && i < p->num_inputs; i++)
    shuffle(pts->order + i * num, num, p->seed + 104729u * (i + 1));
  code = find_cases(pts, msg);
  if (code == STATUS_OK)
    *out = pts;
  else
    plan_points_destroy(&pts);
  return code;
}

void plan_points_destroy(plan_points **pts)
{
  if (!*pts)
    return;
  free((*pts)->order);
  free((*pts)->which);
  free((*pts)->first);
  free(*pts);
  *pts = NULL;
}

size_t plan_points_num(const plan_points *pts) { return pts->num; }
size_t plan_points_num_cases(const plan_points *pts) { return pts->num_cases; }
size_t plan_points_case(const plan_points *pts, size_t point) { return pts->which[point]; }
size_t plan_points_first(const plan_points *pts, size_t which) { return pts->first[which]; }
