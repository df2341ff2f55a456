#include "io/picture_section.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/picture_layout.h"
#include "io/plain_words.h"

static const colour INK = {0.13, 0.15, 0.18, 1.0};
static const colour GREY = {0.36, 0.39, 0.43, 1.0};
static const colour WHITE = {1.0, 1.0, 1.0, 0.8};
static const double ROW = 74.0, LINE = 28.0; /* pixels per label: a name and one line of detail; a second line of detail */
static const double WORDS = 36.0; /* pixels from a swatch to its name */
static const double KNEE = 42.0; /* pixels left of the names where leaders bend */

enum { PLACES = 40 };

/* What is pointed at: a part, a coil or a probe. */
typedef struct {
  char name[64], detail[512];
  colour fill;
  bool is_probe;           /* shown by a diamond, not by an area of its colour */
  double place[PLACES][2]; /* pixels that may be pointed at   */
  size_t num_places;       /* 0: it does not show in the section */
  double x, y;             /* the one that is pointed at      */
  double row;              /* pixel, middle height of the name */
  double height;           /* pixels that the words take       */
} label;

/* ------------------------------------------------------------------------------------------------ words */

static void degrees(double value, char out[PLAIN_WORDS])
{
  char number[64];
  axes_number(value, 1, number, sizeof number);
  (void)snprintf(out, PLAIN_WORDS, isfinite(value) ? "%s \xC2\xB0" "C" : "not known", number);
}

static void describe_body(const rig *r, int part, char *out, size_t size)
{
  for (size_t i = 0; i < r->num_bodies; i++) {
    const rig_body *body = &r->bodies[i];
    if (body->part != part)
      continue;
    char mass[PLAIN_WORDS], start[PLAIN_WORDS];
    plain_words_value(body->mass, 3, "kg", mass);
    degrees(r->parts[part].initial_temperature, start);
    if (body->open_top && isfinite(body->surface_level)) {
      char level[32];
      axes_number(body->surface_level * 1000.0, 0, level, sizeof level);
      (void)snprintf(out, size, "water, %s at %s; frozen level z = %s mm", mass, start, level);
    } else {
      (void)snprintf(out, size, "water, %s at %s", mass, start);
    }
  }
}

static void describe_bath(const rig *r, int part, char *out, size_t size)
{
  for (size_t i = 0; i < r->num_baths; i++) {
    const rig_bath *bath = &r->baths[i];
    if (bath->part != part)
      continue;
    char mass[PLAIN_WORDS], start[PLAIN_WORDS], share[PLAIN_WORDS];
    plain_words_value(bath->mass, 3, "kg", mass);
    degrees(r->parts[part].initial_temperature, start);
    plain_words_value(100.0 * bath->mass_fraction, 3, "%", share);
    (void)snprintf(out, size, "brine, %s %s, %s at %s", brine_name(bath->salt), share, mass, start);
  }
}

static void describe_part(const rig *r, int index, char *out, size_t size)
{
  const rig_part *part = &r->parts[index];
  out[0] = '\0';
  switch (part->kind) {
  case PART_WATER: describe_body(r, index, out, size); break;
  case PART_BRINE: describe_bath(r, index, out, size); break;
  case PART_HELD: {
    char held[PLAIN_WORDS];
    degrees(part->held.num ? part->held.value[0] : NAN, held);
    (void)snprintf(out, size, part->held.num > 1 ? "held at a temperature, first %s" : "held at %s", held);
    break;
  }
  case PART_SOLID: break;
  }
  if (out[0] || !part->stuff)
    return;
  if (part->cavity) {
    char wall[PLAIN_WORDS], floor[PLAIN_WORDS];
    plain_words_value(part->thickness * 1000.0, 2, "mm", wall);
    plain_words_value(part->floor.thickness * 1000.0, 2, "mm", floor);
    (void)snprintf(out, size, part->floor.thickness > 0.0 ? "%s, wall %s, floor %s" : "%s, wall %s", part->stuff->name, wall, floor);
  } else {
    (void)snprintf(out, size, "%s", part->stuff->name);
  }
}

static void describe_coil(const rig_coil *coil, char *out, size_t size)
{
  char tube[PLAIN_WORDS], length[PLAIN_WORDS], cold[PLAIN_WORDS] = "";
  if (coil->conductance > 0.0) {
    (void)snprintf(out, size, "channels, %.3g W/K", coil->conductance);
    return;
  }
  plain_words_value(coil->tube_outer * 1000.0, 3, "mm", tube);
  plain_words_value(coil->length, 3, "m", length);
  const schedule *t = &coil->temperature;
  if (coil->coolant == COOLANT_FIXED && t->num)
    degrees(t->value[0], cold);
  if (coil->num_points > 0)
    (void)snprintf(out, size, "%s tube, %s%s%s", tube, length, cold[0] ? ", coolant at " : ", plant", cold);
  else
    (void)snprintf(out, size, "%zu turns of %s tube, %s%s%s", coil->num_rings, tube, length, cold[0] ? ", coolant at " : ", plant", cold);
  if (cold[0] && t->num > 1) {
    const size_t used = strlen(out);
    degrees(t->value[t->num - 1], cold);
    (void)snprintf(out + used, size - used, ", later %s", cold);
  }
}

/* ------------------------------------------------------------------------------------------------ where to point */

/* Distance of each sample of a part, in coarse samples, to the nearest sample of anything else (city blocks, two sweeps). */
enum { STEP = 4 };
typedef struct { size_t width, height; int32_t *depth; } depth_map;

/* Coil rings count as something else, so that no pointer ends on one. */
static void cut_out_coils(depth_map *d, const section_view *v, const rig *r)
{
  const double sample = (v->high[0] - v->low[0]) / (double)v->width * STEP;
  for (size_t coil = 0; v->revolved && coil < r->num_coils; coil++)
    for (size_t ring = 0; ring < r->coils[coil].num_rings; ring++) {
      const double point[3] = {r->coils[coil].rings[ring][0], 0.0, r->coils[coil].rings[ring][1]};
      double column, row;
      if (!section_view_sample(v, point, false, &column, &row))
        continue;
      const ptrdiff_t reach = 1 + (ptrdiff_t)(0.5 * r->coils[coil].tube_outer / sample);
      for (ptrdiff_t j = (ptrdiff_t)(row / STEP) - reach; j <= (ptrdiff_t)(row / STEP) + reach; j++)
        for (ptrdiff_t i = (ptrdiff_t)(column / STEP) - reach; i <= (ptrdiff_t)(column / STEP) + reach; i++)
          if (i >= 0 && j >= 0 && i < (ptrdiff_t)d->width && j < (ptrdiff_t)d->height)
            d->depth[(size_t)j * d->width + (size_t)i] = 0;
    }
}

static int16_t part_of(const section_view *v, size_t i, size_t j) { return v->part[j * STEP * v->width + i * STEP]; }

static void sweep(const section_view *v, depth_map *d, bool back)
{
  for (size_t row = 0; row < d->height; row++)
    for (size_t column = 0; column < d->width; column++) {
      const size_t i = back ? d->width - 1 - column : column, j = back ? d->height - 1 - row : row;
      int32_t *here = &d->depth[j * d->width + i];
      if (*here == 0)
        continue; /* a coil ring */
      const size_t di = back ? i + 1 : i - 1, dj = back ? j + 1 : j - 1; /* wraps round below 0: then not < width */
      const int32_t side = di < d->width && part_of(v, di, j) == part_of(v, i, j) ? d->depth[j * d->width + di] : 0;
      const int32_t over = dj < d->height && part_of(v, i, dj) == part_of(v, i, j) ? d->depth[dj * d->width + i] : 0;
      const int32_t most = (side < over ? side : over) + 1;
      if (!back || most < *here)
        *here = most;
    }
}

static status depth_create(depth_map *d, const section_view *v, const rig *r, message *msg)
{
  *d = (depth_map){.width = (v->width - 1) / STEP + 1, .height = (v->height - 1) / STEP + 1};
  d->depth = malloc(d->width * d->height * sizeof *d->depth);
  if (!d->depth)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the places of names",
                       d->width * d->height * sizeof *d->depth);
  for (size_t i = 0; i < d->width * d->height; i++)
    d->depth[i] = 1;
  cut_out_coils(d, v, r);
  sweep(v, d, false);
  sweep(v, d, true);
  return STATUS_OK;
}

/* Places well inside the part, right of a mirror: all within half of the greatest depth, thinned out. Thin parts that no sample
 * meets are out of sight. */
static void places_of_part(const picture_panel *p, const depth_map *d, int part, label *out)
{
  const section_view *v = p->view;
  size_t from = 0, found = 0;
  if (isfinite(v->mirror))
    from = (size_t)((v->mirror - v->low[0]) / (v->high[0] - v->low[0]) * (double)d->width);
  int32_t deepest = 0;
  for (size_t j = 0; j < d->height; j++)
    for (size_t i = from; i < d->width; i++)
      if (part_of(v, i, j) == part && d->depth[j * d->width + i] > deepest)
        deepest = d->depth[j * d->width + i];
  for (int pass = 0; pass < 2; pass++) { /* counts, then takes every so many */
    size_t seen = 0;
    for (size_t j = 0; j < d->height; j++)
      for (size_t i = from; i < d->width; i++) {
        if (part_of(v, i, j) != part || deepest == 0 || 2 * d->depth[j * d->width + i] < deepest)
          continue;
        if (pass == 1 && seen * PLACES >= out->num_places * found && out->num_places < PLACES) {
          double *place = out->place[out->num_places++];
          place[0] = p->frame.x + ((double)i + 0.5) / (double)d->width * p->frame.width;
          place[1] = p->frame.y + ((double)j + 0.5) / (double)d->height * p->frame.height;
        }
        seen++;
      }
    found = seen;
  }
}

static void places_of_coil(const picture_panel *p, const rig_coil *coil, label *out)
{
  for (size_t i = 0; i < coil->num_rings && out->num_places < PLACES && p->view->revolved; i++) {
    const double point[3] = {coil->rings[i][0], 0.0, coil->rings[i][1]};
    double *place = out->place[out->num_places];
    out->num_places += picture_panel_point(p, point, false, &place[0], &place[1]);
  }
}

/* ------------------------------------------------------------------------------------------------ labels */

static canvas_style detail_style(void) { return (canvas_style){.size = PICTURE_LAYOUT_SMALL, .ink = GREY}; }

/* No line break between a number and its unit: the blank becomes one that does not break. */
static void tie_units(char *text, size_t size)
{
  for (size_t i = 1; text[i]; i++)
    if (text[i] == ' ' && text[i - 1] >= '0' && text[i - 1] <= '9' && strlen(text) + 2 < size) {
      memmove(text + i + 2, text + i + 1, strlen(text + i + 1) + 1);
      memcpy(text + i, "\xC2\xA0", 2);
    }
}

static status make_labels(picture_layout *l, const rig *r, label *labels, size_t *num, message *msg)
{
  const picture_panel *p = &l->panel[0];
  depth_map depth;
  const status code = depth_create(&depth, p->view, r, msg);
  if (code != STATUS_OK)
    return code;
  *num = 0;
  for (size_t i = 0; i < r->num_coils; i++) {
    label *to = &labels[*num];
    *to = (label){0};
    places_of_coil(p, &r->coils[i], to);
    (void)snprintf(to->name, sizeof to->name, "%s", r->coils[i].name);
    describe_coil(&r->coils[i], to->detail, sizeof to->detail);
    to->fill = (colour){0.80, 0.50, 0.26, 1.0};
    (*num)++;
  }
  for (size_t i = 0; i < r->num_probes; i++) {
    label *to = &labels[(*num)++];
    *to = (label){.is_probe = true};
    to->num_places = picture_panel_point(p, r->probes[i].point, false, &to->place[0][0], &to->place[0][1]);
    (void)snprintf(to->name, sizeof to->name, "probe %s", r->probes[i].name);
    char place[PLAIN_WORDS];
    plain_words_place(r->probes[i].point, p->view->revolved, place);
    (void)snprintf(to->detail, sizeof to->detail, "at %s", place);
  }
  for (size_t i = 0; i < r->num_parts; i++) {
    label *to = &labels[*num];
    *to = (label){.fill = picture_panel_part_colour(r, (int)i)};
    places_of_part(p, &depth, (int)i, to);
    (void)snprintf(to->name, sizeof to->name, "%s", r->parts[i].name);
    describe_part(r, (int)i, to->detail, sizeof to->detail);
    (*num)++;
  }
  free(depth.depth);
  const double room = (l->num_panels == 1 ? l->side_width - WORDS : 0.5 * l->side_width - WORDS - 20.0);
  for (size_t i = 0; i < *num; i++) {
    tie_units(labels[i].detail, sizeof labels[i].detail);
    labels[i].height = ROW + (canvas_text_width(l->canvas, detail_style(), labels[i].detail) > room ? LINE : 0.0);
  }
  return STATUS_OK;
}

static int by_height(const void *a, const void *b)
{
  const double ya = ((const label *)a)->y, yb = ((const label *)b)->y;
  return (ya > yb) - (ya < yb);
}

/* Rows as near as may be (least squares) to what they point at, none over another: take the room that the rows above need off each
 * wish, then pool neighbours whose wishes run backward into their mean. */
static void spread(label *labels, size_t num, double top, double bottom)
{
  double above = 0.0;
  for (size_t i = 0; i < num; i++) {
    labels[i].row = labels[i].y - above; /* the wish */
    above += labels[i].height;
  }
  for (size_t first = 0; first < num;) {
    size_t end = first + 1;
    double wish = labels[first].row, sum = wish;
    for (size_t i = first + 1; i < num; i++) { /* the longest run that the mean pulls together */
      sum += labels[i].row;
      const double mean = sum / (double)(i - first + 1);
      if (mean <= wish) {
        wish = mean;
        end = i + 1;
      }
    }
    for (size_t i = first; i < end; i++)
      labels[i].row = wish;
    first = end;
  }
  above = 0.0;
  for (size_t i = 0; i < num; i++) {
    labels[i].row += above;
    above += labels[i].height;
    labels[i].row = fmax(labels[i].row, i ? labels[i - 1].row + labels[i - 1].height : top);
  }
  double most = bottom;
  for (size_t i = num; i-- > 0; most = labels[i].row) {
    labels[i].row = fmin(labels[i].row, most - labels[i].height);
  }
}

/* Sorts by height and spreads the rows. */
static void arrange(label *labels, size_t num, double top, double bottom)
{
  qsort(labels, num, sizeof *labels, by_height);
  spread(labels, num, top, bottom);
}

static double side_of(const double a[2], const double b[2], double x, double y)
{
  return (b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0]);
}

static double off_leader(const double a[2], const double b[2], double x, double y)
{
  const double along = ((x - a[0]) * (b[0] - a[0]) + (y - a[1]) * (b[1] - a[1])) / (pow(b[0] - a[0], 2.0) + pow(b[1] - a[1], 2.0));
  const double cut = fmin(fmax(along, 0.0), 1.0);
  return hypot(a[0] + cut * (b[0] - a[0]) - x, a[1] + cut * (b[1] - a[1]) - y);
}

/* How muddled the leaders are: crossings and leaders over another's dot count most, then steepness and length. */
static double muddle(const label *labels, size_t num, double knee)
{
  double sum = 0.0;
  for (size_t i = 0; i < num; i++) {
    if (!labels[i].num_places)
      continue;
    const double a[2] = {labels[i].x, labels[i].y}, b[2] = {knee, labels[i].row};
    sum += 1.0 * fabs(b[1] - a[1]) + 0.3 * fabs(b[0] - a[0]);
    for (size_t k = 0; k < num; k++) {
      if (k == i || !labels[k].num_places)
        continue;
      const double c[2] = {labels[k].x, labels[k].y}, d[2] = {knee, labels[k].row};
      const bool cross = side_of(a, b, c[0], c[1]) * side_of(a, b, d[0], d[1]) < 0.0 &&
                         side_of(c, d, a[0], a[1]) * side_of(c, d, b[0], b[1]) < 0.0;
      sum += 400.0 * cross + 30.0 * fmax(0.0, 20.0 - off_leader(a, b, c[0], c[1]));
    }
  }
  return sum;
}

/* Tries the places of each label in turn, a few rounds, keeping what muddles least. */
static void choose_places(label *labels, label *trial, size_t num, double top, double bottom, double knee)
{
  for (size_t i = 0; i < num; i++) {
    labels[i].x = labels[i].num_places ? labels[i].place[labels[i].num_places / 2][0] : 0.0;
    labels[i].y = labels[i].num_places ? labels[i].place[labels[i].num_places / 2][1] : bottom;
  }
  arrange(labels, num, top, bottom);
  double least = muddle(labels, num, knee);
  for (int round = 0; round < 3; round++)
    for (size_t i = 0; i < num; i++)
      for (size_t k = 0; labels[i].num_places > 1 && k < labels[i].num_places; k++) {
        memcpy(trial, labels, num * sizeof *labels);
        trial[i].x = trial[i].place[k][0];
        trial[i].y = trial[i].place[k][1];
        arrange(trial, num, top, bottom);
        const double here = muddle(trial, num, knee);
        if (here < least) {
          least = here;
          memcpy(labels, trial, num * sizeof *labels);
        }
      }
}

static void draw_words(picture_layout *l, const label *to, double x, double y, double width)
{
  char text[512];
  const canvas_style name = {.size = PICTURE_LAYOUT_TEXT, .bold = true, .ink = INK};
  const canvas_style detail = detail_style();
  canvas_fit_text(l->canvas, name, to->name, width, text, sizeof text);
  canvas_text(l->canvas, x, y, name, text);
  /* Two lines, parted at the last blank that fits; what is longer is cut. */
  size_t first = 0, length = strlen(to->detail);
  for (size_t end = 1; end <= length; end++) {
    if (end < length && to->detail[end] != ' ')
      continue;
    (void)snprintf(text, sizeof text, "%.*s", (int)end, to->detail);
    if (canvas_text_width(l->canvas, detail, text) > width)
      break;
    first = end;
  }
  (void)snprintf(text, sizeof text, "%.*s", (int)first, to->detail);
  canvas_text(l->canvas, x, y + 30.0, detail, text);
  canvas_fit_text(l->canvas, detail, to->detail + first + (to->detail[first] == ' '), width, text, sizeof text);
  canvas_text(l->canvas, x, y + 58.0, detail, text);
}

static void draw_diamond(canvas *c, double x, double y)
{
  const double diamond[4][2] = {{x, y - 11.0}, {x + 11.0, y}, {x, y + 11.0}, {x - 11.0, y}};
  canvas_polygon(c, diamond, 4, (colour){1.0, 1.0, 1.0, 1.0});
  canvas_polyline(c, diamond, 4, true, (canvas_pen){.ink = INK, .width = 2.5});
}

static void draw_swatch(picture_layout *l, const label *of, double x, double y)
{
  if (of->is_probe) {
    draw_diamond(l->canvas, x + 12.0, y);
    return;
  }
  canvas_box(l->canvas, x, y - 12.0, 24.0, 24.0, of->fill);
  canvas_frame(l->canvas, x, y - 12.0, 24.0, 24.0, (canvas_pen){.ink = INK, .width = 1.5});
}

static void draw_leader(picture_layout *l, const label *to, double from_x)
{
  const double points[3][2] = {{from_x, to->row}, {l->side_x - KNEE, to->row}, {to->x, to->y}};
  canvas_polyline(l->canvas, points, 3, false, (canvas_pen){.ink = WHITE, .width = 5.0});
  canvas_polyline(l->canvas, points, 3, false, (canvas_pen){.ink = INK, .width = 1.8});
  canvas_disc(l->canvas, to->x, to->y, 7.0, (colour){1.0, 1.0, 1.0, 1.0});
  canvas_disc(l->canvas, to->x, to->y, 4.5, INK);
}

/* Beside one panel: names at the height of what they name, with leaders. */
static void draw_beside(picture_layout *l, label *labels, size_t num)
{
  choose_places(labels, labels + num, num, l->side_y + 12.0, canvas_height(l->canvas) - 10.0, l->side_x - KNEE);
  for (size_t i = 0; i < num; i++) {
    if (labels[i].num_places)
      draw_leader(l, &labels[i], l->side_x - 8.0);
    draw_swatch(l, &labels[i], l->side_x, labels[i].row);
    draw_words(l, &labels[i], l->side_x + WORDS, labels[i].row, l->side_width - WORDS);
  }
}

/* Below three panels: a legend in two columns. */
static void draw_below(picture_layout *l, const label *labels, size_t num)
{
  for (size_t i = 0; i < num; i++) {
    const double x = l->side_x + (i % 2 ? 0.5 * l->side_width : 0.0), y = l->side_y + (ROW + LINE) * (double)(i / 2) + 12.0;
    draw_swatch(l, &labels[i], x, y);
    draw_words(l, &labels[i], x + WORDS, y, 0.5 * l->side_width - WORDS - 20.0);
  }
}

/* ------------------------------------------------------------------------------------------------ levels, probes */

/* A dashed line over the water at its (frozen) surface. */
static void draw_levels(picture_panel *p, const rig *r)
{
  const section_view *v = p->view;
  if (v->up != 2)
    return;
  for (size_t i = 0; i < r->num_bodies; i++) {
    const rig_body *body = &r->bodies[i];
    if (!body->open_top || !isfinite(body->surface_level))
      continue;
    const double just_below[3] = {v->at[0], v->at[1], body->surface_level - 0.5 * (v->high[1] - v->low[1]) / (double)v->height};
    double column, row;
    if (!section_view_sample(v, just_below, false, &column, &row))
      continue;
    const size_t j = (size_t)fmin(fmax(row + 1.5, 0.0), (double)v->height - 1.0);
    size_t first = v->width, last = 0;
    for (size_t k = 0; k < v->width; k++)
      if (v->part[j * v->width + k] == body->part) {
        first = k < first ? k : first;
        last = k;
      }
    if (first > last)
      continue;
    const double y = axes_y(&p->frame, body->surface_level);
    const double x0 = p->frame.x + (double)first / (double)v->width * p->frame.width;
    const double x1 = p->frame.x + (double)(last + 1) / (double)v->width * p->frame.width;
    canvas_line(p->canvas, x0, y, x1, y, (canvas_pen){.ink = {0.05, 0.30, 0.60, 1.0}, .width = 3.0, .dash = {12.0, 6.0}});
    const double x = x0 + 0.25 * (x1 - x0); /* the draughtsman's sign for a water level */
    const double sign[3][2] = {{x - 11.0, y - 19.0}, {x + 11.0, y - 19.0}, {x, y - 2.0}};
    canvas_polygon(p->canvas, sign, 3, (colour){0.05, 0.30, 0.60, 1.0});
  }
}

static void draw_probes(picture_panel *p, const rig *r)
{
  for (size_t i = 0; i < r->num_probes; i++) {
    double x, y;
    if (picture_panel_point(p, r->probes[i].point, false, &x, &y))
      draw_diamond(p->canvas, x, y);
  }
}

/* ------------------------------------------------------------------------------------------------ all */

/* labels: room for twice their number. */
static status draw_all(picture_layout *l, const rig *r, label *labels, message *msg)
{
  size_t num = 0;
  status code = make_labels(l, r, labels, &num, msg);
  for (size_t i = 0; code == STATUS_OK && i < l->num_panels; i++) {
    code = picture_panel_draw_parts(&l->panel[i], r, msg);
    picture_panel_draw_coils(&l->panel[i], r);
    draw_levels(&l->panel[i], r);
    draw_probes(&l->panel[i], r);
  }
  if (code != STATUS_OK)
    return code;
  if (l->num_panels == 1)
    draw_beside(l, labels, num);
  else
    draw_below(l, labels, num);
  return STATUS_OK;
}

status picture_section_draw(const char *path, const rig *r, const mesh *m, message *msg)
{
  const size_t most = r->num_parts + r->num_coils + r->num_probes;
  label *labels = malloc(2 * (most + 1) * sizeof *labels);
  if (!labels)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for names", 2 * (most + 1) * sizeof *labels);
  const bool one = m->grid->kind == GRID_RZ;
  const picture_layout_request want = {.path = path, .title = "The rig as understood", .subtitle = r->title,
                                       .side_height = (ROW + (one ? 0.5 : 1.0) * LINE) * (one ? (double)most : ceil(0.5 * (double)most)) + 30.0};
  picture_layout l;
  status code = picture_layout_create(&l, r, m, &want, msg);
  if (code == STATUS_OK) {
    code = draw_all(&l, r, labels, msg);
    if (code == STATUS_OK)
      code = picture_layout_finish(&l, msg);
    else
      picture_layout_release(&l);
  }
  free(labels);
  return code;
}
