#include "geometry/triangle_file.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "geometry/triangle_polygon.h"

static const double BEYOND = 1e30; /* a coordinate this large is a fault, and its square would soon overflow */
enum { SHOWN = 40, HEADER = 80, RECORD = 50, MOST_CORNERS = 4096 };

void triangle_file_release(triangle_file *f)
{
  free(f->points);
  free(f->corners);
  *f = (triangle_file){0};
}

/* ---- growing -------------------------------------------------------------------------------------- */

/* Room for `wanted` items of an array that grows by itself. */
static status grow(void **array, size_t *room, size_t wanted, size_t size, message *msg)
{
  if (wanted <= *room) return STATUS_OK;
  const size_t more = wanted + wanted / 2 + 64;
  void *p = realloc(*array, more * size);
  if (!p) return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for triangles; export a coarser surface", more * size);
  *array = p;
  *room = more;
  return STATUS_OK;
}

/* The arrays at once, no larger than they need to be. */
static status reserve(triangle_file *f, size_t num_points, size_t num_triangles, message *msg)
{
  f->points = malloc((num_points + 1) * sizeof *f->points);
  f->corners = malloc((num_triangles + 1) * sizeof *f->corners);
  f->room_points = f->points ? num_points : 0;
  f->room_triangles = f->corners ? num_triangles : 0;
  if (f->points && f->corners) return STATUS_OK;
  return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for triangles; export a coarser surface",
                     num_points * sizeof *f->points + num_triangles * sizeof *f->corners);
}

static status add_point(triangle_file *f, const double p[3], message *msg)
{
  void *array = f->points;
  const status code = grow(&array, &f->room_points, f->num_points + 1, sizeof *f->points, msg);
  f->points = array;
  if (code == STATUS_OK) memcpy(f->points[f->num_points++], p, sizeof *f->points);
  return code;
}

static status add_triangle(triangle_file *f, uint32_t a, uint32_t b, uint32_t c, message *msg)
{
  void *array = f->corners;
  const status code = grow(&array, &f->room_triangles, f->num_triangles + 1, sizeof *f->corners, msg);
  f->corners = array;
  if (code == STATUS_OK) memcpy(f->corners[f->num_triangles++], (uint32_t[3]){a, b, c}, sizeof *f->corners);
  return code;
}

static status too_many(const char *name, message *msg)
{
  return message_set(msg, STATUS_BAD_INPUT, "%.200s: more than %d triangles; export a coarser surface (a hundred thousand are plenty)", name,
                     TRIANGLE_FILE_MOST);
}

static status check_some(const triangle_file *f, const char *name, message *msg)
{
  if (f->num_triangles > 0) return STATUS_OK;
  return message_set(msg, STATUS_BAD_INPUT, "%.200s: it holds no triangle; export the solid's surface as triangles", name);
}

/* ---- words and numbers ------------------------------------------------------------------------------ */

typedef struct {
  const char *name;
  const char *at, *end;
  size_t line;
  bool continues;       /* a backslash at the end of a line joins the next one (OBJ) */
  const char *word;     /* the last word; not NUL-ended */
  size_t length;        /* 0: the end of the line (or of the file) */
} reader;

static bool is_blank(char c)
{
  return c == ' ' || c == '\t' || c == '\r' || c == '\f' || c == '\v';
}

/* A line feed, or a carriage return that stands by itself. */
static bool ends_line(const reader *r, const char *p)
{
  return *p == '\n' || (*p == '\r' && (p + 1 >= r->end || p[1] != '\n'));
}

static const char *pass_blanks(const reader *r, const char *p)
{
  while (p < r->end && is_blank(*p) && !ends_line(r, p)) p++;
  return p;
}

/* The next word of this line into r->word. */
static bool next_word(reader *r)
{
  for (;;) {
    r->at = pass_blanks(r, r->at);
    if (!r->continues || r->at >= r->end || *r->at != '\\') break;
    const char *p = pass_blanks(r, r->at + 1);
    if (p >= r->end || !ends_line(r, p)) break;
    r->at = p + 1;
    r->line++;
  }
  r->word = r->at;
  while (r->at < r->end && !is_blank(*r->at) && *r->at != '\n') r->at++;
  r->length = (size_t)(r->at - r->word);
  return r->length > 0;
}

static void skip_line(reader *r)
{
  while (r->at < r->end && !ends_line(r, r->at)) r->at++;
  if (r->at >= r->end) return;
  r->at++;
  r->line++;
}

/* The mark that some editors put before a text in UTF-8 is no part of it. */
static reader start_reading(const char *name, const char *bytes, size_t num_bytes, bool continues)
{
  const size_t mark = num_bytes >= 3 && memcmp(bytes, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;
  return (reader){.name = name, .at = bytes + mark, .end = bytes + num_bytes, .line = 1, .continues = continues};
}

/* The next word, on whatever line it stands. */
static bool next_word_anywhere(reader *r)
{
  while (!next_word(r)) {
    if (r->at >= r->end) return false;
    skip_line(r);
  }
  return true;
}

static char lower(char c)
{
  return c >= 'A' && c <= 'Z' ? (char)(c + 'a' - 'A') : c;
}

static bool word_is(const reader *r, const char *text)
{
  const size_t n = strlen(text);
  if (n != r->length) return false;
  for (size_t i = 0; i < n; i++)
    if (lower(r->word[i]) != text[i]) return false;
  return true;
}

/* The word as it may be shown: what is not plain ASCII becomes '?'. */
static const char *shown(const reader *r, char out[SHOWN + 1])
{
  const size_t n = r->length < SHOWN ? r->length : SHOWN;
  for (size_t i = 0; i < n; i++) out[i] = (char)(r->word[i] > 32 && r->word[i] < 127 ? r->word[i] : '?');
  out[n] = 0;
  return out;
}

static status bad_word(const reader *r, const char *wanted, message *msg)
{
  char text[SHOWN + 1];
  if (r->length == 0 && r->at >= r->end)
    return message_set(msg, STATUS_BAD_INPUT, "%.200s:%zu: the file ends where %s belongs; it was cut short: export or copy it again",
                       r->name, r->line, wanted);
  if (r->length == 0)
    return message_set(msg, STATUS_BAD_INPUT, "%.200s:%zu: the line ends where %s belongs", r->name, r->line, wanted);
  return message_set(msg, STATUS_BAD_INPUT, "%.200s:%zu: found \"%s\" where %s belongs", r->name, r->line, shown(r, text), wanted);
}

static double power_of_ten(int e)
{
  static const double exact[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
                                 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
  return e <= 22 ? exact[e] : pow(10, e);
}

/* [sign] digits [. digits] [e [sign] digits], all of the word; within two units of the last place of a double, whatever the locale. */
static bool parse_number(const char *p, const char *end, double *out)
{
  uint64_t digits = 0;
  int kept = 0, scale = 0, exponent = 0;
  bool any = false, negative = false, point = false;
  if (p < end && (*p == '+' || *p == '-')) negative = *p++ == '-';
  for (; p < end && ((*p >= '0' && *p <= '9') || (*p == '.' && !point)); p++) {
    if (*p == '.') {
      point = true;
      continue;
    }
    any = true;
    if (kept < 18) {
      digits = 10 * digits + (uint64_t)(*p - '0');
      kept += digits > 0;
      scale -= point;
    } else if (!point && scale < 10000) {
      scale++;
    }
  }
  if (!any) return false;
  if (p < end && (*p == 'e' || *p == 'E')) {
    bool below = false;
    if (++p < end && (*p == '+' || *p == '-')) below = *p++ == '-';
    if (p >= end) return false;
    for (; p < end && *p >= '0' && *p <= '9'; p++) exponent = exponent < 10000 ? 10 * exponent + (*p - '0') : exponent;
    if (below) exponent = -exponent;
  }
  if (p != end) return false;
  exponent += scale;
  double value = (double)digits;
  if (exponent < -300) value = 0;
  else if (exponent < 0) value /= power_of_ten(-exponent);
  else if (digits > 0) value = exponent > 60 ? INFINITY : value * power_of_ten(exponent);
  *out = negative ? -value : value;
  return true;
}

static status bad_number(const reader *r, message *msg)
{
  char text[SHOWN + 1];
  if (r->length == 0) return bad_word(r, "a number", msg);
  if (memchr(r->word, ',', r->length))
    return message_set(msg, STATUS_BAD_INPUT, "%.200s:%zu: \"%s\" has a comma; decimals are written with a point: export it again so", r->name,
                       r->line, shown(r, text));
  return message_set(msg, STATUS_BAD_INPUT, "%.200s:%zu: \"%s\" is not a finite number; export the surface again", r->name, r->line,
                     shown(r, text));
}

static status read_number(reader *r, double *out, message *msg)
{
  if (!next_word(r) || !parse_number(r->word, r->word + r->length, out)) return bad_number(r, msg);
  if (fabs(*out) <= BEYOND) return STATUS_OK;
  char text[SHOWN + 1];
  return message_set(msg, STATUS_BAD_INPUT, "%.200s:%zu: \"%s\" is beyond 1e30; export the surface again", r->name, r->line, shown(r, text));
}

static status read_point(reader *r, double p[3], message *msg)
{
  status code = STATUS_OK;
  for (int a = 0; code == STATUS_OK && a < 3; a++) code = read_number(r, &p[a], msg);
  return code;
}

/* ---- binary STL ------------------------------------------------------------------------------------- */

static uint32_t little_endian(const unsigned char *p)
{
  return (uint32_t)p[0] | (uint32_t)p[1] << 8 | (uint32_t)p[2] << 16 | (uint32_t)p[3] << 24;
}

static status read_corner(triangle_file *f, const char *name, size_t triangle, const unsigned char *bytes, message *msg)
{
  double p[3];
  for (int a = 0; a < 3; a++) {
    const uint32_t bits = little_endian(bytes + 4 * a);
    float value;
    memcpy(&value, &bits, sizeof value);
    p[a] = (double)value;
    if (!(fabs(p[a]) <= BEYOND))
      return message_set(msg, STATUS_BAD_INPUT, "%.200s: triangle %zu: its %c is %s; export the surface again", name, triangle + 1, "xyz"[a],
                         isfinite(p[a]) ? "beyond 1e30" : "not a finite number");
  }
  return add_point(f, p, msg);
}

/* Do the bytes with which a binary file would begin read as text? Four such bytes are a count beyond 150 million, so that no binary file is meant. */
static bool begins_as_text(const unsigned char *bytes)
{
  for (size_t i = 0; i < HEADER + 4; i++)
    if (bytes[i] != '\t' && bytes[i] != '\r' && bytes[i] != '\n' && (bytes[i] < ' ' || bytes[i] == 0x7F)) return false;
  return true;
}

static status read_binary(triangle_file *f, const char *name, const unsigned char *bytes, size_t num_bytes, message *msg)
{
  const size_t num = little_endian(bytes + HEADER), fits = (num_bytes - HEADER - 4) / RECORD;
  if (num_bytes != HEADER + 4 + RECORD * num && begins_as_text(bytes))
    return message_set(msg, STATUS_BAD_INPUT, "%.200s: it is a text that does not begin with \"solid\", as an STL does; is it an OBJ, whose name ends in .obj, "
                                              "or no triangles at all?", name);
  if (num_bytes != HEADER + 4 + RECORD * num)
    return message_set(msg, STATUS_BAD_INPUT,
                       "%.200s: its count says %zu triangles, its %zu bytes hold %zu%s; it was cut short or its count is false: export or copy "
                       "it again", name, num, num_bytes, fits, (num_bytes - HEADER - 4) % RECORD ? " and a piece" : "");
  if (num > TRIANGLE_FILE_MOST) return too_many(name, msg);
  status code = reserve(f, 3 * num, num, msg);
  for (size_t t = 0; code == STATUS_OK && t < num; t++) {
    const unsigned char *record = bytes + HEADER + 4 + RECORD * t;
    for (int corner = 0; code == STATUS_OK && corner < 3; corner++) code = read_corner(f, name, t, record + 12 + 12 * corner, msg);
    const uint32_t first = (uint32_t)(3 * t);
    if (code == STATUS_OK) code = add_triangle(f, first, first + 1, first + 2, msg);
  }
  return code;
}

/* ---- text STL --------------------------------------------------------------------------------------- */

static status expect(reader *r, const char *word, message *msg)
{
  char wanted[SHOWN];
  if (next_word_anywhere(r) && word_is(r, word)) return STATUS_OK;
  (void)snprintf(wanted, sizeof wanted, "\"%s\"", word);
  return bad_word(r, wanted, msg);
}

/* After the word "facet". The normal is not believed; some programs write nan there, so that it is passed over unread. */
static status read_facet(triangle_file *f, reader *r, message *msg)
{
  double p[3];
  if (f->num_triangles >= TRIANGLE_FILE_MOST) return too_many(r->name, msg);
  status code = expect(r, "normal", msg);
  for (int a = 0; code == STATUS_OK && a < 3; a++)
    if (!next_word(r)) code = bad_number(r, msg);
  if (code == STATUS_OK) code = expect(r, "outer", msg);
  if (code == STATUS_OK) code = expect(r, "loop", msg);
  for (int corner = 0; code == STATUS_OK && corner < 3; corner++) {
    code = expect(r, "vertex", msg);
    if (code == STATUS_OK) code = read_point(r, p, msg);
    if (code == STATUS_OK) code = add_point(f, p, msg);
  }
  if (code == STATUS_OK) code = expect(r, "endloop", msg);
  if (code == STATUS_OK) code = expect(r, "endfacet", msg);
  const uint32_t next = (uint32_t)f->num_points;
  return code == STATUS_OK ? add_triangle(f, next - 3, next - 2, next - 1, msg) : code;
}

static status read_text(triangle_file *f, const char *name, const char *bytes, size_t num_bytes, message *msg)
{
  reader r = start_reading(name, bytes, num_bytes, false);
  status code = STATUS_OK;
  bool inside = false;
  while (code == STATUS_OK && next_word_anywhere(&r)) {
    if (!inside && word_is(&r, "solid")) {
      inside = true;
      skip_line(&r);
    } else if (inside && word_is(&r, "endsolid")) {
      inside = false;
      skip_line(&r);
    } else if (inside && word_is(&r, "facet")) {
      code = read_facet(f, &r, msg);
    } else {
      code = bad_word(&r, inside ? "\"facet\" or \"endsolid\"" : "\"solid\"", msg);
    }
  }
  if (code == STATUS_OK && inside) code = bad_word(&r, "\"endsolid\"", msg);
  return code;
}

/* A binary file may begin with "solid" all the same; its size tells, or, when that is false, a zero byte. */
static bool is_binary(const char *bytes, size_t num_bytes)
{
  if (num_bytes >= HEADER + 4 && num_bytes == HEADER + 4 + RECORD * (size_t)little_endian((const unsigned char *)bytes + HEADER)) return true;
  const reader r = start_reading("", bytes, num_bytes, false);
  size_t i = (size_t)(r.at - bytes);
  while (i < num_bytes && (is_blank(bytes[i]) || bytes[i] == '\n')) i++;
  if (num_bytes - i < 5 || memcmp(bytes + i, "solid", 5) != 0) {
    const bool upper = num_bytes - i >= 5 && memcmp(bytes + i, "SOLID", 5) == 0;
    if (!upper) return true;
  }
  return memchr(bytes, 0, num_bytes < 4096 ? num_bytes : 4096) != NULL;
}

status triangle_file_read_stl(triangle_file *out, const char *name, const char *bytes, size_t num_bytes, message *msg)
{
  *out = (triangle_file){0};
  status code = STATUS_OK;
  if (num_bytes == 0)
    code = message_set(msg, STATUS_BAD_INPUT, "%.200s: the file is empty; export it again", name);
  else if (!is_binary(bytes, num_bytes))
    code = read_text(out, name, bytes, num_bytes, msg);
  else if (num_bytes < HEADER + 4)
    code = message_set(msg, STATUS_BAD_INPUT, "%.200s: %zu bytes are neither a text that begins with \"solid\" nor the 84 with which a binary "
                                              "STL begins; is it cut short, or another kind of file?", name, num_bytes);
  else
    code = read_binary(out, name, (const unsigned char *)bytes, num_bytes, msg);
  if (code == STATUS_OK) code = check_some(out, name, msg);
  if (code != STATUS_OK) triangle_file_release(out);
  return code;
}

/* ---- OBJ -------------------------------------------------------------------------------------------- */

typedef struct {
  triangle_file *f;
  reader r;
  uint32_t polygon[MOST_CORNERS], cut[MOST_CORNERS][3];
  size_t num_corners;
  uint64_t highest; /* number of the last point that a face names, and where */
  size_t highest_line;
} obj_reader;

/* The point of a corner i, i/j, i//k, i/j/k. */
static status read_index(obj_reader *o, uint32_t *out, message *msg)
{
  const reader *r = &o->r;
  const char *p = r->word, *end = r->word + r->length;
  const bool back = p < end && *p == '-';
  uint64_t number = 0;
  if (back) p++;
  const char *first = p;
  for (; p < end && *p >= '0' && *p <= '9'; p++) number = number < UINT32_MAX ? 10 * number + (uint64_t)(*p - '0') : number;
  bool good = p > first;
  for (int part = 0; good && p < end && part < 2; part++) { /* texture and normal: only their form is looked at */
    good = *p++ == '/';
    if (p < end && *p == '-') p++;
    while (p < end && *p >= '0' && *p <= '9') p++;
  }
  if (!good || p != end) return bad_word(r, "the number of a point, as in 7 or 7/1/3,", msg);
  if (number == 0 || number >= UINT32_MAX || (back && number > o->f->num_points)) {
    char text[SHOWN + 1];
    return message_set(msg, STATUS_BAD_INPUT, "%.200s:%zu: \"%s\" names no point; %zu were given so far", r->name, r->line, shown(r, text),
                       o->f->num_points);
  }
  if (!back && number > o->highest) {
    o->highest = number;
    o->highest_line = r->line;
  }
  *out = back ? (uint32_t)(o->f->num_points - number) : (uint32_t)(number - 1);
  return STATUS_OK;
}

static status add_polygon(obj_reader *o, size_t line, message *msg)
{
  const size_t n = o->num_corners;
  for (size_t i = 0; n > 3 && i < n; i++)
    if (o->polygon[i] >= o->f->num_points)
      return message_set(msg, STATUS_BAD_INPUT, "%.200s:%zu: a polygon names point %u before it is given; export the surface as triangles",
                         o->r.name, line, (unsigned)o->polygon[i] + 1);
  if (!triangle_polygon_cut((const double(*)[3])o->f->points, o->polygon, n, o->cut))
    return message_set(msg, STATUS_BAD_INPUT,
                       "%.200s:%zu: a polygon of %zu corners is so bent that it could be cut in triangles in more ways than one, or crosses "
                       "itself; export the surface as triangles", o->r.name, line, n);
  status code = STATUS_OK;
  for (size_t i = 0; code == STATUS_OK && i + 2 < n; i++) {
    if (o->f->num_triangles >= TRIANGLE_FILE_MOST) return too_many(o->r.name, msg);
    code = add_triangle(o->f, o->cut[i][0], o->cut[i][1], o->cut[i][2], msg);
  }
  return code;
}

static status read_face(obj_reader *o, message *msg)
{
  const size_t line = o->r.line;
  status code = STATUS_OK;
  o->num_corners = 0;
  while (code == STATUS_OK && next_word(&o->r) && o->r.word[0] != '#') {
    if (o->num_corners == MOST_CORNERS)
      return message_set(msg, STATUS_BAD_INPUT, "%.200s:%zu: a polygon of more than %d corners; export the surface as triangles", o->r.name,
                         line, MOST_CORNERS);
    code = read_index(o, &o->polygon[o->num_corners], msg);
    o->num_corners += code == STATUS_OK;
  }
  if (code == STATUS_OK && o->num_corners < 3)
    return message_set(msg, STATUS_BAD_INPUT, "%.200s:%zu: a face of %zu corners; three or more are wanted", o->r.name, line, o->num_corners);
  return code == STATUS_OK ? add_polygon(o, line, msg) : code;
}

static bool word_among(const reader *r, const char *const *words)
{
  for (; *words; words++)
    if (word_is(r, *words)) return true;
  return false;
}

static status read_statement(obj_reader *o, message *msg)
{
  static const char *const passed[] = {"vt", "vn", "vp", "g", "o", "s", "mg", "l", "p", "usemtl", "mtllib", "usemap", "maplib", "bevel",
                                       "c_interp", "d_interp", "lod", "shadow_obj", "trace_obj", NULL};
  static const char *const free_form[] = {"cstype", "deg", "curv", "curv2", "surf", "parm", "trim", "hole", "scrv", "sp", "end", "con",
                                          "bmat", "step", "ctech", "stech", NULL};
  double p[3];
  if (word_is(&o->r, "v")) {
    if (o->f->num_points >= 3 * (size_t)TRIANGLE_FILE_MOST) return too_many(o->r.name, msg);
    const status code = read_point(&o->r, p, msg);
    return code == STATUS_OK ? add_point(o->f, p, msg) : code;
  }
  if (word_is(&o->r, "f")) return read_face(o, msg);
  if (o->r.word[0] == '#' || word_among(&o->r, passed)) return STATUS_OK;
  if (word_among(&o->r, free_form)) {
    char text[SHOWN + 1];
    return message_set(msg, STATUS_BAD_INPUT, "%.200s:%zu: \"%s\" belongs to a free-form surface; export the surface as triangles", o->r.name,
                       o->r.line, shown(&o->r, text));
  }
  return bad_word(&o->r, "v, f or another word of an OBJ file", msg);
}

status triangle_file_read_obj(triangle_file *out, const char *name, const char *bytes, size_t num_bytes, message *msg)
{
  *out = (triangle_file){0};
  if (num_bytes == 0) return message_set(msg, STATUS_BAD_INPUT, "%.200s: the file is empty; export it again", name);
  obj_reader *o = calloc(1, sizeof *o);
  if (!o) return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes to read %.200s", sizeof *o, name);
  o->f = out;
  o->r = start_reading(name, bytes, num_bytes, true);
  status code = STATUS_OK;
  while (code == STATUS_OK && next_word_anywhere(&o->r)) {
    const bool comment = o->r.word[0] == '#';
    if (!comment) code = read_statement(o, msg);
    /* Of what is passed over only a line end without a backslash ends it; numbers after a point (weight, colour) likewise. */
    while (code == STATUS_OK && !comment && next_word(&o->r) && o->r.word[0] != '#') continue;
    if (code == STATUS_OK) skip_line(&o->r);
  }
  if (code == STATUS_OK && o->highest > out->num_points)
    code = message_set(msg, STATUS_BAD_INPUT, "%.200s:%zu: a face names point %llu, and the file holds %zu; it was cut short or put together "
                                              "wrongly: export it again", name, o->highest_line, (unsigned long long)o->highest,
                       out->num_points);
  if (code == STATUS_OK) code = check_some(out, name, msg);
  if (code != STATUS_OK) triangle_file_release(out);
  free(o);
  return code;
}

/* ---- by name ---------------------------------------------------------------------------------------- */

static bool ends_with(const char *name, const char *ending)
{
  const size_t n = strlen(name), m = strlen(ending);
  if (n < m) return false;
  for (size_t i = 0; i < m; i++)
    if (lower(name[n - m + i]) != ending[i]) return false;
  return true;
}

status triangle_file_read(triangle_file *out, const char *name, const char *bytes, size_t num_bytes, message *msg)
{
  if (ends_with(name, ".stl")) return triangle_file_read_stl(out, name, bytes, num_bytes, msg);
  if (ends_with(name, ".obj")) return triangle_file_read_obj(out, name, bytes, num_bytes, msg);
  *out = (triangle_file){0};
  return message_set(msg, STATUS_BAD_INPUT, "%.200s: the name of a triangle file ends in .stl or .obj", name);
}
