/* Pictures and the page: what is on them is found again by reading them back, and faults are told. */
#include <cairo.h>
#include <check.h>
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/axes.h"
#include "io/canvas.h"
#include "io/picture_clear.h"
#include "io/picture_layout.h"
#include "io/pictures.h"
#include "io/plain_words.h"
#include "io/section_view.h"
#include "io/whole_file.h"
#include "picture_rig.h"

static char dir[] = "/tmp/lastwater_pictures_XXXXXX";
static picture_rig *round_rig, *box_rig;

static void set_up(void)
{
  ck_assert_ptr_nonnull(mkdtemp(dir));
  round_rig = picture_rig_create(GRID_RZ);
  box_rig = picture_rig_create(GRID_XYZ);
}

static void tear_down(void)
{
  picture_rig_destroy(&round_rig);
  picture_rig_destroy(&box_rig);
  canvas_release_caches();
  char command[128];
  (void)snprintf(command, sizeof command, "rm -rf '%s'", dir);
  ck_assert_int_eq(system(command), 0);
  memcpy(dir + strlen(dir) - 6, "XXXXXX", 6);
}

/* Good for the next three calls. */
static const char *in_dir(const char *name)
{
  static char paths[4][256];
  static int turn;
  char *path = paths[turn++ % 4];
  (void)snprintf(path, sizeof paths[0], "%s/%s", dir, name);
  return path;
}

/* ------------------------------------------------------------------------------------------------ reading pictures back */

typedef struct { cairo_surface_t *surface; int width, height, stride; const unsigned char *bytes; } image;

static image read_image(const char *path)
{
  image i = {.surface = cairo_image_surface_create_from_png(path)};
  ck_assert_int_eq(cairo_surface_status(i.surface), CAIRO_STATUS_SUCCESS);
  i.width = cairo_image_surface_get_width(i.surface);
  i.height = cairo_image_surface_get_height(i.surface);
  i.stride = cairo_image_surface_get_stride(i.surface);
  i.bytes = cairo_image_surface_get_data(i.surface);
  return i;
}

static uint32_t pixel(const image *i, double x, double y)
{
  uint32_t p;
  memcpy(&p, i->bytes + (size_t)y * (size_t)i->stride + 4 * (size_t)x, sizeof p);
  return p & 0xFFFFFF;
}

static bool near_colour(uint32_t p, colour k)
{
  const uint32_t want = canvas_pixel(k) & 0xFFFFFF;
  for (int shift = 0; shift <= 16; shift += 8)
    if (abs((int)(p >> shift & 255) - (int)(want >> shift & 255)) > 3)
      return false;
  return true;
}

/* The frame of the one panel of a picture of the round rig, by the same request. */
static axes_frame frame_of(bool water_only)
{
  picture_layout l;
  const picture_layout_request want = {.path = in_dir("frame.png"), .title = "", .subtitle = "", .water_only = water_only};
  ck_assert_int_eq(picture_layout_create(&l, picture_rig_rig(round_rig), picture_rig_mesh(round_rig), &want, NULL), STATUS_OK);
  const axes_frame f = l.panel[0].frame;
  picture_layout_release(&l);
  return f;
}

/* How many rows a text takes in a column as wide as `row`. */
static double rows_of(const char *text, const char *row)
{
  picture_layout l;
  const picture_layout_request want = {.path = in_dir("rows.png"), .title = "", .subtitle = ""};
  const canvas_style style = {.size = PICTURE_LAYOUT_TEXT};
  ck_assert_int_eq(picture_layout_create(&l, picture_rig_rig(round_rig), picture_rig_mesh(round_rig), &want, NULL), STATUS_OK);
  l.side_width = canvas_text_width(l.canvas, style, row) + 1.0;
  const double top = l.side_y;
  (void)picture_layout_say(&l, 0.0, style, text);
  const double rows = (l.side_y - top) / (1.36 * style.size);
  picture_layout_release(&l);
  return rows;
}

/* The number goes with its unit into the next row, though it would still fit into the one before. */
START_TEST(a_number_and_its_unit_stand_in_one_row)
{
  ck_assert_double_eq_tol(rows_of("nnnn nnnn 12 nn nnnn nn", "nnnn nnnn 12"), 3.0, 1e-9);
  ck_assert_double_eq_tol(rows_of("nnnn nnnn 12 \xC2\xB0" "C nnnn nn", "nnnn nnnn 12"), 3.0, 1e-9);
  ck_assert_double_eq_tol(rows_of("nnnn nnnn 1n nn nnnn nn", "nnnn nnnn 12"), 2.0, 1e-9);
}
END_TEST

static size_t size_of(const char *path)
{
  struct stat s;
  return stat(path, &s) == 0 ? (size_t)s.st_size : 0;
}

/* ------------------------------------------------------------------------------------------------ tests */

START_TEST(section_shows_each_part_where_it_is_on_both_sides)
{
  message msg = {""};
  const rig *r = picture_rig_rig(round_rig);
  ck_assert_msg(pictures_section(in_dir("s.png"), r, picture_rig_mesh(round_rig), &msg) == STATUS_OK, "%s", msg.text);
  const axes_frame f = frame_of(false);
  image i = read_image(in_dir("s.png"));
  ck_assert_int_eq(i.width, 1600);
  /* Points clear of names, rings and lines, from the sizes the rig was built with. */
  static const struct { double r, z; int part; } places[] = {{0.05, 0.55, 4}, {0.12, 0.12, 4}, {0.28, 0.20, 2}, {0.43, 0.30, 0}, {0.30, 0.68, 1}};
  for (size_t k = 0; k < sizeof places / sizeof *places; k++) /* the left side: no leaders there */
    ck_assert_msg(near_colour(pixel(&i, axes_x(&f, -places[k].r), axes_y(&f, places[k].z)), picture_panel_part_colour(r, places[k].part)),
                  "part %d is not at r = %g, z = %g", places[k].part, -places[k].r, places[k].z);
  ck_assert(near_colour(pixel(&i, axes_x(&f, 0.12), axes_y(&f, 0.12)), picture_panel_part_colour(r, 4)));
  cairo_surface_destroy(i.surface);
}
END_TEST

/* Least colour difference to `want` within 5 pixels: a line of equal time may cover the very place. Left of the axis there are no
 * labels. */
static double nearest_colour(const image *i, double x, double y, const double want[3])
{
  double least = INFINITY;
  for (int dy = -5; dy <= 5; dy++)
    for (int dx = -5; dx <= 5; dx++) {
      double got[3];
      const uint32_t p = pixel(i, x + dx, y + dy);
      colour_map_to_lab((colour){(p >> 16) / 255.0, (p >> 8 & 255) / 255.0, (p & 255) / 255.0, 1.0}, got);
      least = fmin(least, hypot(hypot(got[0] - want[0], got[1] - want[1]), got[2] - want[2]));
    }
  return least;
}

START_TEST(freeze_map_has_the_colour_of_the_time_at_a_place)
{
  message msg = {""};
  const mesh *m = picture_rig_mesh(round_rig);
  const results *res = picture_rig_results(round_rig);
  ck_assert_msg(pictures_freeze_time(in_dir("f.png"), picture_rig_rig(round_rig), m, res, &msg) == STATUS_OK, "%s", msg.text);
  double latest = 0.0;
  for (size_t i = 0; i < res->num_nodes; i++)
    latest = res->freeze_time[i] > latest ? res->freeze_time[i] : latest;
  const axes_frame f = frame_of(true);
  image i = read_image(in_dir("f.png"));
  colour_map map;
  colour_map_fill(&map, COLOUR_MAP_TIME);
  int wrong = 0, asked = 0;
  for (double z = 0.15; z < 0.6; z += 0.05)
    for (double x = 0.03; x < 0.17; x += 0.03) {
      const int32_t node = mesh_node_at(m, (double[3]){x, 0.0, z});
      ck_assert_int_ge(node, 0);
      const double *at = m->centroid[node];
      double want[3];
      colour_map_to_lab(colour_map_at(&map, res->freeze_time[node] / latest), want);
      asked++;
      wrong += nearest_colour(&i, axes_x(&f, -at[0]), axes_y(&f, at[2]), want) > 3.0;
    }
  ck_assert_int_gt(asked, 40);
  ck_assert_msg(wrong == 0, "%d of %d places have not the colour of their time", wrong, asked);
  cairo_surface_destroy(i.surface);
}
END_TEST

/* White below, clear above, and a clear cylinder outlined: colours by the light that 100 mm send back, 0.75 x 0.26 b L / (1 + 0.75 x 0.26 b L)
 * (Mullen & Warren 1988, J. Geophys. Res. 93:8403, from memory). */
START_TEST(clarity_map_shows_clear_and_white_and_the_piece)
{
  message msg = {""};
  const mesh *m = picture_rig_mesh(round_rig);
  const rig *r = picture_rig_rig(round_rig);
  results *res = picture_rig_results(round_rig);
  ck_assert_int_eq(picture_clear_wanted(res), false);
  double *clarity = malloc(m->num_nodes * sizeof *clarity);
  for (size_t i = 0; i < m->num_nodes; i++)
    clarity[i] = m->part[i] != r->bodies[0].part ? NAN : m->centroid[i][2] < 0.35 ? 60.0 : 0.2;
  res->clarity = clarity;
  res->bodies[0].clear = (clear_result){.present = true, .fraction = 0.5, .white_fraction = 0.5, .piece_volume = 0.1 * 0.1 * 3.14159 * 0.16,
                                        .piece_size = {0.1, 0.0, 0.16}, .piece_low = {0.0, 0.0, 0.4}, .piece_high = {0.1, 0.0, 0.56}};
  ck_assert_int_eq(picture_clear_wanted(res), true);
  ck_assert_msg(picture_clear_draw(in_dir("c.png"), r, m, res, &msg) == STATUS_OK, "%s", msg.text);
  res->clarity = NULL;
  res->bodies[0].clear = (clear_result){0};
  free(clarity);
  const axes_frame f = frame_of(true);
  image i = read_image(in_dir("c.png"));
  colour_map map;
  colour_map_fill(&map, COLOUR_MAP_LIQUID);
  const double white_light = 0.75 * 0.26 * 6.0 / (1.0 + 0.75 * 0.26 * 6.0), clear_light = 0.75 * 0.26 * 0.02 / (1.0 + 0.75 * 0.26 * 0.02);
  ck_assert(near_colour(pixel(&i, axes_x(&f, -0.05), axes_y(&f, 0.2)), colour_map_at(&map, 1.0 - white_light / 0.8)));
  ck_assert(near_colour(pixel(&i, axes_x(&f, -0.05), axes_y(&f, 0.5)), colour_map_at(&map, 1.0 - clear_light / 0.8)));
  /* The dashes on both sides of the axis: most of the points of an upright edge lie on one or near one. */
  double dash[3];
  colour_map_to_lab((colour){0.84, 0.37, 0.0, 1.0}, dash);
  int found[2] = {0, 0};
  for (int side = 0; side < 2; side++)
    for (int k = 0; k < 15; k++)
      found[side] += nearest_colour(&i, axes_x(&f, side ? 0.1 : -0.1), axes_y(&f, 0.41 + 0.01 * k), dash) < 8.0;
  ck_assert_msg(found[0] > 10 && found[1] > 10, "left %d, right %d of 15", found[0], found[1]);
  cairo_surface_destroy(i.surface);
}
END_TEST

START_TEST(field_never_blends_across_a_wall)
{
  /* Water at 5, everything else at -20 degC: next to the wall each side must show its own value to the last sample. */
  const rig *r = picture_rig_rig(round_rig);
  const mesh *m = picture_rig_mesh(round_rig);
  const int water = r->bodies[0].part;
  double *values = malloc(m->num_nodes * sizeof *values);
  for (size_t i = 0; i < m->num_nodes; i++)
    values[i] = m->part[i] == water ? 5.0 : -20.0;
  section_view *v = NULL;
  const section_view_request want = {.across = 0, .up = 2, .most_width = 500, .most_height = 500};
  ck_assert_int_eq(section_view_create(&v, r, m, &want, NULL), STATUS_OK);
  float *field = malloc(v->width * v->height * sizeof *field);
  static const section_blend blends[] = {SECTION_FLAT, SECTION_SMOOTH, SECTION_SLOPED};
  for (int b = 0; b < 3; b++) {
    ck_assert_int_eq(section_view_field(v, r, m, values, blends[b], field, NULL), STATUS_OK);
    size_t in_water = 0, blank = 0;
    for (size_t i = 0; i < v->width * v->height; i++) {
      if (v->part[i] == MESH_VOID)
        ck_assert(isnan(field[i]));
      else if (isnan(field[i]))
        blank++;
      else
        ck_assert_float_eq_tol(field[i], v->part[i] == water ? 5.0f : -20.0f, 1e-5f);
      in_water += v->part[i] == water;
    }
    ck_assert_uint_gt(in_water, 10000);
    ck_assert_uint_lt(blank, in_water / 10);
  }
  free(field);
  free(values);
  section_view_destroy(&v);
}
END_TEST

START_TEST(a_linear_field_comes_out_linear)
{
  /* Bilinear interpolation is exact for T = a + b r + c z at nodes in whole cells; nodes of cut cells sit off the cell centre by
   * less than half a cell (5 mm), so there the error is below (b + c) * 5 mm. */
  const rig *r = picture_rig_rig(round_rig);
  const mesh *m = picture_rig_mesh(round_rig);
  double *values = malloc(m->num_nodes * sizeof *values);
  for (size_t i = 0; i < m->num_nodes; i++)
    values[i] = 3.0 + 20.0 * m->centroid[i][0] - 7.0 * m->centroid[i][2];
  section_view *v = NULL;
  const section_view_request want = {.across = 0, .up = 2, .most_width = 400, .most_height = 400};
  ck_assert_int_eq(section_view_create(&v, r, m, &want, NULL), STATUS_OK);
  float *field = malloc(v->width * v->height * sizeof *field);
  ck_assert_int_eq(section_view_field(v, r, m, values, SECTION_SLOPED, field, NULL), STATUS_OK);
  size_t inside = 0;
  for (size_t i = 0; i < v->width * v->height; i++) {
    double at[3];
    section_view_point(v, (double)(i % v->width), (double)(i / v->width), at);
    if (v->part[i] != r->bodies[0].part || !isfinite(field[i]))
      continue;
    const double want_here = 3.0 + 20.0 * at[0] - 7.0 * at[2];
    const bool deep = at[0] > 0.01 && at[0] < 0.16 && at[2] > 0.11 && at[2] < 0.61;
    /* Ring cells: the node sits at the volume's centre of r, dr2 / (12 r) outside the middle: 0.2 mm at r = 10 mm. */
    ck_assert_double_eq_tol((double)field[i], want_here, deep ? 20.0 * 3e-4 : 27.0 * 6e-3);
    inside += deep;
  }
  ck_assert_uint_gt(inside, 10000);
  free(field);
  free(values);
  section_view_destroy(&v);
}
END_TEST

START_TEST(all_pictures_of_a_run_are_there_and_not_blank)
{
  message msg = {""};
  static const char *const files[] = {"section", "freeze_time", "temperature", "liquid_fraction", "frozen_share", "ledger"};
  for (int k = 0; k < 2; k++) {
    picture_rig *p = k ? box_rig : round_rig;
    const double time = 43200.0;
    const pictures_source from = {dir, picture_rig_rig(p), picture_rig_mesh(p), picture_rig_results(p), picture_rig_temperature(p, time),
                                  picture_rig_liquid(p, time), time, NULL, 0};
    ck_assert_msg(pictures_draw_stored(&from, "png", &msg) == STATUS_OK, "%s", msg.text);
    for (size_t f = 0; f < sizeof files / sizeof *files; f++) {
      char name[64];
      (void)snprintf(name, sizeof name, "pictures/%s.png", files[f]);
      image i = read_image(in_dir(name));
      size_t inked = 0;
      for (int y = 0; y < i.height; y++)
        for (int x = 0; x < i.width; x++)
          inked += pixel(&i, x, y) != 0xFFFFFF;
      ck_assert_uint_gt(inked, 10000);
      cairo_surface_destroy(i.surface);
      ck_assert_int_eq(remove(in_dir(name)), 0);
    }
  }
}
END_TEST

START_TEST(same_picture_is_the_same_file)
{
  /* SVG numbers its groups through the whole process: there a picture is the same file only from run to run. */
  static const char *const ends[] = {"png", "pdf", "svg"};
  for (int k = 0; k < 3; k++) {
    char name[2][32], *bytes[2];
    size_t num[2];
    for (int turn = 0; turn < 2; turn++) {
      (void)snprintf(name[turn], sizeof name[turn], "%d.%s", turn, ends[k]);
      ck_assert_int_eq(pictures_ledger(in_dir(name[turn]), picture_rig_results(round_rig), NULL), STATUS_OK);
      ck_assert_int_eq(whole_file_read(in_dir(name[turn]), 1 << 26, &bytes[turn], &num[turn], NULL), STATUS_OK);
    }
    if (k < 2) {
      ck_assert_uint_eq(num[0], num[1]);
      ck_assert_mem_eq(bytes[0], bytes[1], num[0]);
    }
    ck_assert(memcmp(bytes[0], k == 0 ? "\x89PNG" : k == 1 ? "%PDF" : "<?xm", 4) == 0);
    free(bytes[0]);
    free(bytes[1]);
  }
}
END_TEST

/* A dash that is not drawn is not promised: water all of which was shut in from the start has no edge. */
START_TEST(dashes_are_in_the_legend_only_when_they_are_drawn)
{
  results *res = picture_rig_results(round_rig);
  pocket *pockets = res->bodies[0].pockets;
  char *bytes[3] = {NULL, NULL, NULL};
  size_t length[3] = {0, 0, 0};
  const double closed_at[3] = {NAN, 0.0, 0.9 * 86400.0}; /* never; from the start; late */
  for (int k = 0; k < 3; k++) {
    pockets[0].trapped = k > 0;
    pockets[0].closed_at = closed_at[k];
    pockets[1].trapped = false;
    ck_assert_int_eq(pictures_freeze_time(in_dir("f.png"), picture_rig_rig(round_rig), picture_rig_mesh(round_rig), res, NULL), STATUS_OK);
    ck_assert_int_eq(whole_file_read(in_dir("f.png"), 1 << 24, &bytes[k], &length[k], NULL), STATUS_OK);
  }
  ck_assert_uint_eq(length[0], length[1]);
  ck_assert_mem_eq(bytes[0], bytes[1], length[0]);
  ck_assert(length[2] != length[0] || memcmp(bytes[2], bytes[0], length[0]) != 0);
  for (int k = 0; k < 3; k++)
    free(bytes[k]);
}
END_TEST

START_TEST(an_unfinished_freeze_is_drawn_and_said)
{
  results *res = picture_rig_results(round_rig);
  body_result *body = &res->bodies[0];
  body->complete = false;
  body->fraction = 0.962;
  body->freeze_time = body->last_time = body->mark[2] = NAN;
  ck_assert_int_eq(pictures_freeze_time(in_dir("f.png"), picture_rig_rig(round_rig), picture_rig_mesh(round_rig), res, NULL), STATUS_OK);
  ck_assert_int_eq(pictures_frozen_share(in_dir("c.png"), res, NULL), STATUS_OK);
}
END_TEST

START_TEST(a_place_that_cannot_be_written_gives_one_message_and_no_file)
{
  message msg = {""};
  const rig *r = picture_rig_rig(round_rig);
  const mesh *m = picture_rig_mesh(round_rig);
  ck_assert_int_eq(pictures_section(in_dir("no/such/place.png"), r, m, &msg), STATUS_FILE);
  ck_assert_ptr_nonnull(strstr(msg.text, "no/such/place.png"));
  ck_assert_ptr_nonnull(strstr(msg.text, strerror(ENOENT)));
  msg.text[0] = '\0';
  ck_assert_int_eq(pictures_section(in_dir("picture.gif"), r, m, &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(msg.text, ".png"));
  ck_assert_uint_eq(size_of(in_dir("picture.gif")), 0);
  /* A file stands where the directory should be. */
  FILE *f = fopen(in_dir("pictures"), "w");
  ck_assert_ptr_nonnull(f);
  ck_assert_int_eq(fclose(f), 0);
  msg.text[0] = '\0';
  ck_assert_int_eq(pictures_draw_stored(&(pictures_source){dir, r, m, picture_rig_results(round_rig), NULL, NULL, 0.0, NULL, 0}, "png", &msg), STATUS_FILE);
  ck_assert_ptr_nonnull(strstr(msg.text, "pictures"));
}
END_TEST

START_TEST(without_any_font_the_picture_is_refused)
{
  /* A font set-up that knows no directory; read once per process, so this needs a fresh one (Check forks). */
  FILE *f = fopen(in_dir("fonts.conf"), "w");
  ck_assert_ptr_nonnull(f);
  (void)fprintf(f, "<?xml version=\"1.0\"?><!DOCTYPE fontconfig SYSTEM \"fonts.dtd\"><fontconfig><cachedir>%s</cachedir></fontconfig>", dir);
  ck_assert_int_eq(fclose(f), 0);
  ck_assert_int_eq(setenv("FONTCONFIG_FILE", in_dir("fonts.conf"), 1), 0);
  message msg = {""};
  canvas *c = NULL;
  ck_assert_int_eq(canvas_create(&c, in_dir("x.png"), 100.0, 100.0, &msg), STATUS_FAILED);
  ck_assert_ptr_null(c);
  ck_assert_ptr_nonnull(strstr(msg.text, "font"));
  ck_assert_uint_eq(size_of(in_dir("x.png")), 0);
}
END_TEST

START_TEST(a_name_cut_inside_a_character_does_not_spoil_the_picture)
{
  canvas *c = NULL;
  ck_assert_int_eq(canvas_create(&c, in_dir("x.png"), 300.0, 60.0, NULL), STATUS_OK);
  const canvas_style style = {.size = 24.0};
  canvas_text(c, 10.0, 30.0, style, "Eisb\xC3");
  canvas_text(c, 10.0, 30.0, style, "\xFF\xFE\x01");
  char cut[32];
  canvas_fit_text(c, style, "\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9\xC3\xA9", 60.0, cut, sizeof cut);
  ck_assert_double_le(canvas_text_width(c, style, cut), 60.0);
  ck_assert_ptr_nonnull(strstr(cut, "\xE2\x80\xA6"));
  ck_assert_int_eq(canvas_finish(&c, NULL), STATUS_OK);
}
END_TEST

START_TEST(durations_and_places_are_said_plainly)
{
  char text[PLAIN_WORDS];
  static const struct { double s; const char *want; } durations[] = {{0.0, "0 s"}, {59.4, "59 s"}, {59.6, "1 min 0 s"}, {500.0, "8 min 20 s"},
      {3599.7, "1 h 0 min"}, {85211.0, "23 h 40 min"}, {3.0 * 86400.0 + 4.0 * 3600.0, "76 h 0 min"}, {12.0 * 86400.0 + 4.2 * 3600.0, "12 d 4 h"}, {NAN, "not known"}};
  for (size_t i = 0; i < sizeof durations / sizeof *durations; i++) {
    plain_words_duration(durations[i].s, text);
    ck_assert_str_eq(text, durations[i].want);
  }
  plain_words_place((double[3]){0.0001, 0.0, 0.21}, true, text);
  ck_assert_str_eq(text, "the axis, z = 210 mm");
  plain_words_place((double[3]){0.0123, -0.02, 0.21}, false, text);
  ck_assert_str_eq(text, "x = 12 mm, y = \xE2\x88\x92" "20 mm, z = 210 mm");
  plain_words_place((double[3]){12.5, 0.0, 0.21}, true, text);
  ck_assert_str_eq(text, "r = 12.5 m, z = 210 mm");
  static const struct { double kg; const char *want, *listed; } masses[] = {{0.16, "160 g (5.6 oz)", "160 g, 5.6 oz"}, {0.0045, "4.5 g (0.16 oz)", "4.5 g, 0.16 oz"},
      {0.9999, "1 kg (2.2 lb)", "1 kg, 2.2 lb"}, {4.3, "4.3 kg (9.48 lb)", "4.3 kg, 9.48 lb"}, {12345.0, "12345 kg (27216 lb)", "12345 kg, 27216 lb"},
      {NAN, "not known", "not known"}}; /* 1 lb = 0.45359237 kg = 16 oz */
  for (size_t i = 0; i < sizeof masses / sizeof *masses; i++) {
    plain_words_mass(masses[i].kg, false, text);
    ck_assert_str_eq(text, masses[i].want);
    plain_words_mass(masses[i].kg, true, text);
    ck_assert_str_eq(text, masses[i].listed);
  }
  plain_words_volume(0.012, text); /* 1 US gal = 3.785411784 L = 128 US fl oz */
  ck_assert_str_eq(text, "12 L (3.17 US gal)");
  plain_words_volume(0.00048, text);
  ck_assert_str_eq(text, "480 mL (16.2 US fl oz)");
  plain_words_length(0.1582, text);
  ck_assert_str_eq(text, "158.2 mm");
  plain_words_length(12.345, text);
  ck_assert_str_eq(text, "12.35 m");
  plain_words_value(-0.04321, 2, "kWh", text);
  ck_assert_str_eq(text, "\xE2\x88\x92" "0.043 kWh");
  plain_words_value(12345.6, 3, "W", text);
  ck_assert_str_eq(text, "12346 W");
  plain_words_value(-18.0, 3, "degC", text);
  ck_assert_str_eq(text, "\xE2\x88\x92" "18.0 \xC2\xB0" "C");
}
END_TEST

int main(void)
{
  Suite *s = suite_create("pictures");
  TCase *t = tcase_create("pictures");
  tcase_set_timeout(t, 120.0);
  tcase_add_checked_fixture(t, set_up, tear_down);
  tcase_add_test(t, section_shows_each_part_where_it_is_on_both_sides);
  tcase_add_test(t, freeze_map_has_the_colour_of_the_time_at_a_place);
  tcase_add_test(t, clarity_map_shows_clear_and_white_and_the_piece);
  tcase_add_test(t, field_never_blends_across_a_wall);
  tcase_add_test(t, a_linear_field_comes_out_linear);
  tcase_add_test(t, all_pictures_of_a_run_are_there_and_not_blank);
  tcase_add_test(t, same_picture_is_the_same_file);
  tcase_add_test(t, dashes_are_in_the_legend_only_when_they_are_drawn);
  tcase_add_test(t, an_unfinished_freeze_is_drawn_and_said);
  tcase_add_test(t, a_place_that_cannot_be_written_gives_one_message_and_no_file);
  tcase_add_test(t, without_any_font_the_picture_is_refused);
  tcase_add_test(t, a_name_cut_inside_a_character_does_not_spoil_the_picture);
  tcase_add_test(t, a_number_and_its_unit_stand_in_one_row);
  tcase_add_test(t, durations_and_places_are_said_plainly);
  suite_add_tcase(s, t);
  SRunner *runner = srunner_create(s);
  srunner_run_all(runner, CK_ENV);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed != 0;
}
