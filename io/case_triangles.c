#include "io/case_triangles.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "geometry/shape_triangles.h"
#include "geometry/triangle_hollow.h"
#include "io/case_drawn.h"
#include "io/case_shape.h"
#include "io/text_hash.h"
#include "io/whole_file.h"

static const size_t MOST_BYTES = (size_t)2 << 30;
static const double BYTES_PER_TRIANGLE = 400; /* at the peak while a surface is built: measured, rounded up */

static const struct {
  const char *name;
  double metres;
} units[] = {{"m", 1.0}, {"cm", 1e-2}, {"mm", 1e-3}, {"in", 0.0254}, {"ft", 0.3048}};

static double metres_of(const char *unit)
{
  for (size_t i = 0; unit && i < sizeof units / sizeof *units; i++)
    if (strcmp(units[i].name, unit) == 0)
      return units[i].metres;
  return NAN;
}

/* ------------------------------------------------------------------------------------------------ the file */

/* Beside the case file, unless it is a full path. The text belongs to the store; NULL when memory is out. */
static const char *path_beside(const case_build *b, const char *file)
{
  const char *slash = file[0] == '/' ? NULL : strrchr(b->c->path, '/');
  const size_t lead = slash ? (size_t)(slash + 1 - b->c->path) : 0, length = strlen(file);
  char *path = case_store_array(b->c->store, lead + length + 1, 1, b->msg);
  if (path) {
    memcpy(path, b->c->path, lead);
    memcpy(path + lead, file, length + 1);
  }
  return path;
}

static void name_bytes(const char *bytes, size_t num, char hash[TEXT_HASH])
{
  (void)snprintf(hash, TEXT_HASH, "%016llx", (unsigned long long)text_hash_bytes(bytes, num));
}

/* A fault, unless memory is out. */
static status tell(const case_build *b, const case_part *part, status code, const message *why)
{
  if (code == STATUS_NO_MEMORY)
    return message_set(b->msg, code, "%s", why->text);
  case_build_fault(b, part->item, "file", "parts.%s: %.900s", part->name, why->text);
  return STATUS_OK;
}

static bool is_as_it_was(const case_build *b, const case_part *part, const char *file)
{
  const yaml_node *was = yaml_tree_value(part->item, "fingerprint");
  if (!was || strcmp(was->text, part->file_hash) == 0)
    return true;
  case_build_fault(b, part->item, "fingerprint", "parts.%s: %.200s has changed: its fingerprint is %s; bring the old file back, or remove "
                   "the line \"fingerprint\"", part->name, file, part->file_hash);
  return false;
}

/* The triangles of the part's file; f stays empty when a fault was told. */
static status read_file(case_build *b, case_part *part, const char *file, triangle_file *f)
{
  message why = {""};
  char *bytes = NULL;
  size_t num = 0;
  const char *dot = strrchr(file, '.');
  part->file = path_beside(b, file);
  if (!part->file)
    return STATUS_NO_MEMORY;
  status code = whole_file_read(part->file, MOST_BYTES, &bytes, &num, &why);
  if (code != STATUS_OK)
    return tell(b, part, code, &why);
  name_bytes(bytes, num, part->file_hash);
  (void)snprintf(part->file_name, sizeof part->file_name, "%s%.15s", part->name, dot && !strchr(dot, '/') ? dot : "");
  if (is_as_it_was(b, part, file)) {
    code = triangle_file_read(f, file, bytes, num, &why);
    if (code != STATUS_OK)
      code = tell(b, part, code, &why);
  }
  free(bytes);
  return code;
}

/* ------------------------------------------------------------------------------------------------ the shape */

static bool fits_memory(const case_build *b, const case_part *part, size_t num_triangles)
{
  const double have = (double)sysconf(_SC_PHYS_PAGES) * (double)sysconf(_SC_PAGESIZE);
  const double need = BYTES_PER_TRIANGLE * (double)num_triangles;
  if (!(have > 0.0) || need <= 0.5 * have)
    return true;
  case_build_fault(b, part->item, "file", "parts.%s: %zu triangles take %.2g GB of this machine's %.2g GB; export a surface of at most %.0f",
                   part->name, num_triangles, 1e-9 * need, 1e-9 * have, 0.5 * have / BYTES_PER_TRIANGLE);
  return false;
}

/* Where the keys and the foot put the surface; false when a fault was told. */
static bool place(const case_build *b, const case_part *part, const double *foot, triangle_surface *s)
{
  static const double origin[3] = {0.0, 0.0, 0.0};
  double lowest = INFINITY, by[3] = {0.0, 0.0, 0.0};
  bool turned = false;
  char path[RIG_NAME + 8];
  shape_placed_frame frame;
  const yaml_node *move = yaml_tree_value(part->item, "move");
  (void)snprintf(path, sizeof path, "parts.%s", part->name);
  const case_shape_request q = {.b = b, .item = part->item, .section = SECTION_PART, .path = path};
  if (!case_shape_frame(&q, origin, &frame, &turned))
    return false;
  if (foot && move && case_build_point(b, move, 3, by) && by[2] != 0.0)
    case_build_fault(b, part->item, "move", "parts.%s: \"%s\" says how high it stands; the third number of \"move\" must then be 0 mm", part->name,
                     case_build_has(part->item, "on") ? "on" : "z");
  triangle_surface_place(s, metres_of(case_build_text(part->item, SECTION_PART, "unit")), &frame);
  for (size_t i = 0; foot && i < s->num_triangles; i++)
    for (int c = 0; c < 3; c++)
      lowest = fmin(lowest, s->points[s->corners[i][c]][2]);
  if (foot) {
    const double up[3] = {0.0, 0.0, *foot - lowest};
    const shape_placed_frame lift = shape_placed_turn(1.0, 0.0, 0.0, 0.0, origin, up);
    triangle_surface_place(s, 1.0, &lift);
  }
  return true;
}

/* The room that a hollow leaves up to its rim; hollow is released. */
static status make_room(const case_build *b, const case_part *part, const char *file, triangle_hollow *hollow, case_triangles_room *room, message *why)
{
  shape *below = NULL, *inside = NULL;
  status code = shape_triangles(&inside, &hollow->surface, file, why);
  if (code == STATUS_OK)
    code = shape_half_space(&below, (const double[3]){0.0, 0.0, hollow->rim}, (const double[3]){0.0, 0.0, 1.0}, why);
  if (code == STATUS_OK)
    code = shape_intersection(&room->inside, inside, below, why); /* takes both over */
  else
    shape_destroy(&inside);
  room->open = hollow->open;
  if (code == STATUS_OK && hollow->num > 1)
    fault_note(b->faults, part->item->at, "parts.%s: %.200s: it has %zu hollows beside each other; the liquid stands equally high in all", part->name, file,
               hollow->num);
  return code;
}

static const double FLAT = 0.04; /* of the area: smaller ones are details */

static void find_flats(case_part *part, const triangle_surface *s, double top)
{
  for (int axis = 0; axis < 3; axis++)
    part->num_flats[axis] = triangle_flats_find(s, axis, top, FLAT, part->flats[axis]);
}

/* The solid, and the room in it when room is not NULL. */
static status make_solid(const case_build *b, case_part *part, const char *file, triangle_surface *s, case_triangles_room *room, shape **out)
{
  message why = {""};
  triangle_hollow hollow = {0};
  shape *solid = NULL;
  const double guess = 2.0 * s->volume / s->area;
  find_flats(part, s, INFINITY);
  status code = room ? triangle_hollow_find(&hollow, s, file, &why) : STATUS_OK;
  if (code == STATUS_OK)
    code = shape_triangles(&solid, s, file, &why);
  else
    triangle_surface_release(s);
  if (code == STATUS_OK && room) {
    part->drawn_wall = case_drawn_wall(solid, &hollow, guess);
    part->mean_wall = guess;
    if (part->drawn_wall > 0.0) /* the grid then meets its inner face, as that of any thin wall */
      find_flats(part, &hollow.surface, hollow.rim);
    code = make_room(b, part, file, &hollow, room, &why);
  } else {
    triangle_surface_release(&hollow.surface);
  }
  if (code == STATUS_OK)
    *out = solid;
  else
    shape_destroy(&solid);
  return code == STATUS_OK ? code : tell(b, part, code, &why);
}

static status build_from(case_build *b, case_part *part, const char *file, triangle_file *f, const double *foot, case_triangles_room *room, shape **out)
{
  message why = {""};
  triangle_surface s;
  const status code = triangle_surface_create(&s, f, file, &why);
  if (code != STATUS_OK)
    return tell(b, part, code, &why);
  for (size_t i = 0; i < s.num_warnings; i++)
    fault_note(b->faults, part->item->at, "parts.%s: %.200s: %s", part->name, file, s.warnings[i]);
  if (place(b, part, foot, &s))
    return make_solid(b, part, file, &s, room, out);
  triangle_surface_release(&s);
  return STATUS_OK;
}

status case_triangles_build(case_build *b, case_part *part, const double *foot, case_triangles_room *room, shape **out)
{
  const char *file = case_build_text(part->item, SECTION_PART, "file");
  triangle_file f = {0};
  if (b->c->revolved) {
    case_build_fault(b, part->item, "shape", "parts.%s: a triangle file is no figure of revolution; use dimension: xyz, or a profile", part->name);
    return STATUS_OK;
  }
  if (!file || !case_build_has(part->item, "unit")) {
    case_build_fault(b, part->item, NULL, "parts.%s: triangles need \"file\" and \"unit\", the length that 1 is in that file", part->name);
    return STATUS_OK;
  }
  status code = read_file(b, part, file, &f);
  if (code == STATUS_OK && f.num_triangles > 0 && fits_memory(b, part, f.num_triangles))
    code = build_from(b, part, file, &f, foot, room, out);
  triangle_file_release(&f);
  return code;
}

/* ------------------------------------------------------------------------------------------------ with the results */

static status copy_one(const case_part *p, const char *directory, message *msg)
{
  char path[WHOLE_FILE_PATH], hash[TEXT_HASH], *bytes = NULL;
  size_t num = 0;
  status code = whole_file_join(path, directory, p->file_name, msg);
  if (code == STATUS_OK)
    code = whole_file_read(p->file, MOST_BYTES, &bytes, &num, msg);
  if (code != STATUS_OK)
    return code;
  name_bytes(bytes, num, hash);
  if (strcmp(hash, p->file_hash) != 0)
    code = message_set(msg, STATUS_FILE, "%s changed while the case was read; run again", p->file);
  if (code == STATUS_OK)
    code = whole_file_write(path, bytes, num, msg);
  free(bytes);
  return code;
}

status case_triangles_copy(const case_file *c, const char *directory, message *msg)
{
  status code = STATUS_OK;
  for (size_t i = 0; code == STATUS_OK && i < c->num_parts; i++)
    if (c->parts[i].file)
      code = copy_one(&c->parts[i], directory, msg);
  return code;
}
