#include "io/page_data.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/case_facts.h"
#include "io/cell_nodes.h"
#include "io/colour_map.h"
#include "io/field_store.h"
#include "io/h5_file.h"
#include "io/page_block.h"
#include "io/page_json.h"
#include "io/page_rig.h"
#include "io/part_lattice.h"
#include "io/summary_json.h"
#include "io/whole_file.h"

/* Figures that a page may hold in its fields, and samples of its parts: some 6 MB of text at most. */
enum { MOST_VALUES = 7000000, MOST_SAMPLES_FLAT = 250000, MOST_SAMPLES_SOLID = 1200000, FEWEST_TIMES = 24 };
enum { LARGEST_SUMMARY = 64 << 20, NAME = 128 };

typedef struct {
  FILE *to;
  const case_file *of;
  const rig *rig;
  const mesh *mesh;
  hid_t file;
  size_t num_cells, stride, time_stride, num_times;
  size_t shown[3];    /* cells shown along each axis                    */
  size_t *cell;       /* [num_shown] index of the cell that is shown    */
  size_t num_shown;
  float low, high;    /* of the cells read since they were set           */
  float *values, *thinned; /* [num_cells], [num_shown] workspace         */
  int32_t *water, *rest;   /* [num_cells] nodes                          */
} source;

/* ------------------------------------------------------------------------------------------------ colours */

static void colours(FILE *to, colour_map_kind kind)
{
  colour_map map;
  colour_map_fill(&map, kind);
  fputc('"', to);
  for (int i = 0; i < COLOUR_MAP_SIZE; i++)
    fprintf(to, "%02x%02x%02x", (unsigned)lround(255.0 * map.entry[i].red), (unsigned)lround(255.0 * map.entry[i].green),
            (unsigned)lround(255.0 * map.entry[i].blue));
  fputc('"', to);
}

void page_data_colours(FILE *to)
{
  fputs("{\"time\":", to);
  colours(to, COLOUR_MAP_TIME);
  fputs(",\"liquid\":", to);
  colours(to, COLOUR_MAP_LIQUID);
  fputs(",\"temperature\":", to);
  colours(to, COLOUR_MAP_TEMPERATURE);
  fputc('}', to);
}

/* ------------------------------------------------------------------------------------------------ what is shown */

static size_t divided_up(size_t a, size_t b) { return (a + b - 1) / b; }

/* Figures in all fields at one time: a cell without a value costs next to nothing. */
static size_t values_a_time(const source *s)
{
  size_t num = 0;
  for (size_t cell = 0; cell < s->num_cells; cell++)
    num += 2u * (s->water[cell] != MESH_NONE) + 2u * (s->rest[cell] != MESH_NONE);
  return num;
}

static void choose_strides(source *s)
{
  const size_t here = values_a_time(s);
  const int axes = s->mesh->grid->kind == GRID_RZ ? 2 : 3;
  s->stride = s->time_stride = 1;
  for (;;) {
    const double kept = (double)here / pow((double)s->stride, axes) * (double)divided_up(s->num_times, s->time_stride);
    if (kept <= MOST_VALUES)
      return;
    if (divided_up(s->num_times, s->time_stride + 1) >= FEWEST_TIMES)
      s->time_stride++;
    else
      s->stride++;
  }
}

static status choose_cells(source *s, message *msg)
{
  const grid *g = s->mesh->grid;
  s->num_shown = 1;
  for (int axis = 0; axis < 3; axis++) {
    s->shown[axis] = divided_up(g->num[axis], s->stride);
    s->num_shown *= s->shown[axis];
  }
  s->cell = malloc((s->num_shown + 1) * sizeof *s->cell);
  s->thinned = malloc((s->num_shown + 1) * sizeof *s->thinned);
  if (!s->cell || !s->thinned)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the page", s->num_shown * (sizeof *s->cell + sizeof *s->thinned));
  for (size_t i = 0; i < s->num_shown; i++) {
    const size_t at[3] = {i % s->shown[0], i / s->shown[0] % s->shown[1], i / s->shown[0] / s->shown[1]};
    size_t full[3];
    for (int axis = 0; axis < 3; axis++) {
      const size_t middle = at[axis] * s->stride + s->stride / 2;
      full[axis] = middle < g->num[axis] ? middle : g->num[axis] - 1;
    }
    s->cell[i] = grid_cell(g, full[0], full[1], full[2]);
  }
  return STATUS_OK;
}

static void write_edges(const source *s)
{
  static const char *const names[] = {"x", "y", "z"};
  const grid *g = s->mesh->grid;
  for (int axis = 0; axis < 3; axis++) {
    fputs(axis ? "," : "", s->to);
    page_json_key(s->to, names[axis]);
    for (size_t i = 0; i <= s->shown[axis]; i++) {
      const size_t edge = i * s->stride < g->num[axis] ? i * s->stride : g->num[axis];
      fputs(i ? "," : "[", s->to);
      page_json_number(s->to, g->edges[axis][edge]);
    }
    fputc(']', s->to);
  }
}

static void write_grid(const source *s)
{
  const grid *g = s->mesh->grid;
  fprintf(s->to, ",\"dimension\":\"%s\",\"cells\":[%zu,%zu,%zu],\"stride\":%zu,\"mirror\":[%d,%d,%d],\"grid\":{", g->kind == GRID_RZ ? "rz" : "xyz",
          g->num[0], g->num[1], g->num[2], s->stride, g->kind == GRID_RZ || g->mirror[0], g->mirror[2], g->mirror[4]);
  write_edges(s);
  fputc('}', s->to);
}

/* ------------------------------------------------------------------------------------------------ where the parts lie */

static status write_lattice(const source *s, message *msg)
{
  part_lattice l;
  const bool flat = s->mesh->grid->kind == GRID_RZ;
  status code = part_lattice_create(&l, s->rig, s->mesh, flat ? MOST_SAMPLES_FLAT : MOST_SAMPLES_SOLID, msg);
  if (code != STATUS_OK)
    return code;
  fputs(",\"lattice\":{\"low\":", s->to);
  page_json_numbers(s->to, l.low, 3);
  fputs(",\"high\":", s->to);
  page_json_numbers(s->to, l.high, 3);
  fprintf(s->to, ",\"num\":[%zu,%zu,%zu],\"part\":\"", l.num[0], l.num[1], l.num[2]);
  code = page_block_bytes(s->to, l.part, l.num[0] * l.num[1] * l.num[2], msg);
  fputs("\"}", s->to);
  part_lattice_release(&l);
  return code;
}

/* Which part the values of `rest` belong to in each shown cell. */
static status write_rest_parts(const source *s, message *msg)
{
  unsigned char *part = malloc(s->num_shown + 1);
  if (!part)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the page", s->num_shown);
  for (size_t i = 0; i < s->num_shown; i++) {
    const int32_t node = s->rest[s->cell[i]];
    const int32_t of = node == MESH_NONE ? MESH_VOID : s->mesh->part[node];
    part[i] = of + 1 < 255 ? (unsigned char)(of + 1) : 255;
  }
  fputs(",\"rest_part\":\"", s->to);
  const status code = page_block_bytes(s->to, part, s->num_shown, msg);
  fputc('"', s->to);
  free(part);
  return code;
}

/* ------------------------------------------------------------------------------------------------ figures from the file */

static bool read_length(hid_t file, const char *name, size_t *length)
{
  hsize_t extent = 0;
  const hid_t set = H5Dopen2(file, name, H5P_DEFAULT);
  const hid_t space = set < 0 ? -1 : H5Dget_space(set);
  const bool ok = space >= 0 && H5Sget_simple_extent_ndims(space) == 1 && H5Sget_simple_extent_dims(space, &extent, NULL) == 1;
  if (space >= 0)
    (void)H5Sclose(space);
  if (set >= 0)
    (void)H5Dclose(set);
  *length = (size_t)extent;
  return ok;
}

/* values[length], owned by the caller; NULL: fault. */
static double *read_column(hid_t file, const char *name, size_t *length)
{
  if (!read_length(file, name, length))
    return NULL;
  double *values = malloc((*length + 1) * sizeof *values);
  const hid_t set = values ? H5Dopen2(file, name, H5P_DEFAULT) : -1;
  if (set < 0 || (*length && H5Dread(set, H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, values) < 0)) {
    free(values);
    values = NULL;
  }
  if (set >= 0)
    (void)H5Dclose(set);
  return values;
}

/* The slice at one time, or all of a set without times (time < 0), thinned. */
static bool read_cells(source *s, hid_t set, ptrdiff_t time)
{
  const hsize_t num = s->num_cells;
  const hid_t space = H5Dget_space(set), memory = H5Screate_simple(1, &num, NULL);
  const int rank = space < 0 ? 0 : H5Sget_simple_extent_ndims(space);
  bool ok = memory >= 0 && rank >= 2 && rank <= 4;
  if (ok && time >= 0) {
    hsize_t start[4] = {(hsize_t)time}, count[4];
    ok = H5Sget_simple_extent_dims(space, count, NULL) == rank;
    count[0] = 1;
    ok = ok && H5Sselect_hyperslab(space, H5S_SELECT_SET, start, NULL, count, NULL) >= 0;
  }
  ok = ok && H5Sget_select_npoints(space) == (hssize_t)num && H5Dread(set, H5T_NATIVE_FLOAT, memory, space, H5P_DEFAULT, s->values) >= 0;
  if (space >= 0)
    (void)H5Sclose(space);
  if (memory >= 0)
    (void)H5Sclose(memory);
  for (size_t i = 0; ok && i < s->num_shown; i++) {
    const float value = s->thinned[i] = s->values[s->cell[i]];
    s->low = value < s->low ? value : s->low; /* false for NAN */
    s->high = value > s->high ? value : s->high;
  }
  return ok;
}

static void begin_range(source *s)
{
  s->low = INFINITY;
  s->high = -INFINITY;
}

static void write_range(const source *s)
{
  if (s->low <= s->high)
    fprintf(s->to, ",\"range\":[%.9g,%.9g]", (double)s->low, (double)s->high);
}

static void write_labels(const source *s, hid_t set, const char *name, const char *side)
{
  char units[NAME] = "", label[2 * NAME] = "";
  (void)h5_file_get_text(set, ".", "units", units, sizeof units);
  (void)h5_file_get_text(set, ".", "long_name", label, sizeof label);
  fputs("{\"name\":", s->to);
  page_json_text(s->to, name);
  fputs(",\"units\":", s->to);
  page_json_text(s->to, units);
  fputs(",\"label\":", s->to);
  page_json_text(s->to, label);
  if (side) {
    fputs(",\"side\":", s->to);
    page_json_text(s->to, side);
  }
}

static status write_field(source *s, const char *group, const char *name, bool *first, message *msg)
{
  char path[2 * NAME];
  (void)snprintf(path, sizeof path, "/fields/%s/%s", group, name);
  const hid_t set = H5Dopen2(s->file, path, H5P_DEFAULT);
  if (set < 0)
    return h5_file_fault(msg, "read", FIELD_STORE_NAME);
  fputs(*first ? "" : ",", s->to);
  *first = false;
  write_labels(s, set, name, group);
  begin_range(s);
  fputs(",\"blocks\":[", s->to);
  status code = STATUS_OK;
  for (size_t time = 0, done = 0; code == STATUS_OK && time < s->num_times; time++) {
    if (time % s->time_stride && time + 1 < s->num_times)
      continue;
    fputs(done++ ? ",\"" : "\"", s->to);
    code = read_cells(s, set, (ptrdiff_t)time) ? page_block_floats(s->to, s->thinned, s->num_shown, 3, msg) : h5_file_fault(msg, "read", FIELD_STORE_NAME);
    fputc('"', s->to);
  }
  fputc(']', s->to);
  write_range(s);
  fputc('}', s->to);
  (void)H5Dclose(set);
  return code;
}

/* The i-th name in a group, "" when there is none. */
static void name_in(hid_t file, const char *group, size_t i, char name[NAME])
{
  if (H5Lget_name_by_idx(file, group, H5_INDEX_NAME, H5_ITER_INC, i, name, NAME, H5P_DEFAULT) < 0)
    name[0] = '\0';
}

static size_t names_in(hid_t file, const char *group)
{
  H5G_info_t info;
  if (H5Lexists(file, group, H5P_DEFAULT) <= 0 || H5Gget_info_by_name(file, group, &info, H5P_DEFAULT) < 0)
    return 0;
  return (size_t)info.nlinks;
}

static status write_fields(source *s, message *msg)
{
  static const char *const groups[] = {"water", "rest"};
  bool first = true;
  status code = STATUS_OK;
  fputs(",\"fields\":[", s->to);
  for (int g = 0; code == STATUS_OK && g < 2; g++) {
    char path[NAME], name[NAME];
    (void)snprintf(path, sizeof path, "/fields/%s", groups[g]);
    const size_t num = names_in(s->file, path);
    for (size_t i = 0; code == STATUS_OK && i < num; i++) {
      name_in(s->file, path, i, name);
      code = write_field(s, groups[g], name, &first, msg);
    }
  }
  fputc(']', s->to);
  return code;
}

static status write_maps(source *s, message *msg)
{
  status code = STATUS_OK;
  const size_t num = names_in(s->file, "/maps");
  fputs(",\"maps\":[", s->to);
  for (size_t i = 0, done = 0; code == STATUS_OK && i < num; i++) {
    char path[2 * NAME], name[NAME];
    name_in(s->file, "/maps", i, name);
    (void)snprintf(path, sizeof path, "/maps/%s", name);
    const hid_t set = H5Dopen2(s->file, path, H5P_DEFAULT);
    if (set < 0)
      return h5_file_fault(msg, "read", FIELD_STORE_NAME);
    begin_range(s);
    if (read_cells(s, set, -1)) { /* maps of another shape are not for this page */
      fputs(done++ ? "," : "", s->to);
      write_labels(s, set, name, "water");
      fputs(",\"block\":\"", s->to);
      code = page_block_floats(s->to, s->thinned, s->num_shown, 3, msg);
      fputc('"', s->to);
      write_range(s);
      fputc('}', s->to);
    }
    (void)H5Dclose(set);
  }
  fputc(']', s->to);
  return code;
}

static status write_one_series(source *s, const char *name, bool *first, message *msg)
{
  char path[2 * NAME];
  size_t num = 0;
  (void)snprintf(path, sizeof path, "/series/%s", name);
  double *column = read_column(s->file, path, &num);
  float *single = malloc((num + 1) * sizeof *single);
  const hid_t set = column && single ? H5Dopen2(s->file, path, H5P_DEFAULT) : -1;
  status code = set < 0 ? h5_file_fault(msg, "read", FIELD_STORE_NAME) : STATUS_OK;
  if (code == STATUS_OK) {
    for (size_t i = 0; i < num; i++)
      single[i] = (float)column[i];
    fputs(*first ? "" : ",", s->to);
    *first = false;
    write_labels(s, set, name, NULL);
    fputs(",\"block\":\"", s->to);
    code = page_block_floats(s->to, single, num, 4, msg);
    fputs("\"}", s->to);
    (void)H5Dclose(set);
  }
  free(column);
  free(single);
  return code;
}

static status write_series(source *s, message *msg)
{
  bool first = true;
  status code = STATUS_OK;
  fputs(",\"series\":[", s->to);
  const size_t num = names_in(s->file, "/series");
  for (size_t i = 0; code == STATUS_OK && i < num; i++) {
    char name[NAME];
    name_in(s->file, "/series", i, name);
    code = write_one_series(s, name, &first, msg);
  }
  fputc(']', s->to);
  return code;
}

static void write_times(const source *s, const double *times)
{
  fprintf(s->to, ",\"num_times\":%zu,\"time_stride\":%zu,\"times\":[", s->num_times, s->time_stride);
  for (size_t time = 0, done = 0; time < s->num_times; time++)
    if (time % s->time_stride == 0 || time + 1 == s->num_times)
      fprintf(s->to, "%s%.12g", done++ ? "," : "", times[time]);
  fputc(']', s->to);
}

/* ------------------------------------------------------------------------------------------------ the whole */

/* The same that `check` gives. */
static status write_cautions(FILE *to, const case_file *c, message *msg)
{
  case_facts *f = NULL;
  const status code = case_facts_create(&f, c, msg);
  fputs(",\"cautions\":[", to);
  for (size_t i = 0; code == STATUS_OK && i < f->num_cautions; i++) {
    fputs(i ? "," : "", to);
    page_json_text(to, f->cautions[i]);
  }
  fputc(']', to);
  case_facts_destroy(&f);
  return code;
}

static status write_summary(FILE *to, const char *directory, message *msg)
{
  char path[WHOLE_FILE_PATH], *text = NULL;
  status code = whole_file_join(path, directory, SUMMARY_JSON_NAME, msg);
  if (code == STATUS_OK)
    code = whole_file_read(path, LARGEST_SUMMARY, &text, NULL, msg);
  if (code != STATUS_OK)
    return code;
  fputs(",\"summary\":", to);
  page_json_raw(to, text);
  free(text);
  return STATUS_OK;
}

static status write_all(source *s, const char *directory, const char *label, message *msg)
{
  double *times = read_column(s->file, "/time", &s->num_times);
  if (!times)
    return h5_file_fault(msg, "read", FIELD_STORE_NAME);
  choose_strides(s);
  status code = choose_cells(s, msg);
  if (code == STATUS_OK) {
    fputs("{\"title\":", s->to);
    page_json_text(s->to, s->rig->title);
    fputs(",\"label\":", s->to);
    page_json_text(s->to, label);
    write_grid(s);
    write_times(s, times);
    page_rig_write(s->to, s->rig);
    code = write_lattice(s, msg);
  }
  if (code == STATUS_OK)
    code = write_rest_parts(s, msg);
  if (code == STATUS_OK)
    code = write_fields(s, msg);
  if (code == STATUS_OK)
    code = write_maps(s, msg);
  if (code == STATUS_OK)
    code = write_series(s, msg);
  if (code == STATUS_OK)
    code = write_cautions(s->to, s->of, msg);
  if (code == STATUS_OK)
    code = write_summary(s->to, directory, msg);
  fputs("}", s->to);
  free(times);
  return code;
}

static status prepare(source *s, message *msg)
{
  s->num_cells = grid_num_cells(s->mesh->grid);
  s->values = malloc((s->num_cells + 1) * sizeof *s->values);
  s->water = malloc((s->num_cells + 1) * sizeof *s->water);
  s->rest = malloc((s->num_cells + 1) * sizeof *s->rest);
  if (!s->values || !s->water || !s->rest)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the page", s->num_cells * 12);
  cell_nodes_fill(s->mesh, s->rig, s->water, s->rest);
  return STATUS_OK;
}

status page_data_run(FILE *to, const char *directory, const char *label, const case_file *c, const mesh *m, message *msg)
{
  char path[WHOLE_FILE_PATH];
  source s = {.to = to, .of = c, .rig = &c->rig, .mesh = m, .file = -1};
  status code = prepare(&s, msg);
  if (code == STATUS_OK)
    code = whole_file_join(path, directory, FIELD_STORE_NAME, msg);
  if (code == STATUS_OK)
    code = h5_file_open(&s.file, path, false, msg);
  if (code == STATUS_OK)
    code = write_all(&s, directory, label, msg);
  if (s.file >= 0)
    (void)h5_file_close(&s.file);
  free(s.values);
  free(s.water);
  free(s.rest);
  free(s.cell);
  free(s.thinned);
  return code;
}
