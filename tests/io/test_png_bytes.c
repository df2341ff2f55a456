/* PNG files as another program's reader (libpng, within cairo) sees them. */
#include <cairo.h>
#include <check.h>
#include <stdlib.h>
#include <string.h>

#include "io/png_bytes.h"

typedef struct { const unsigned char *bytes; size_t num, at; } source;

static cairo_status_t give(void *closure, unsigned char *to, unsigned int num)
{
  source *s = closure;
  if (s->at + num > s->num)
    return CAIRO_STATUS_READ_ERROR;
  memcpy(to, s->bytes + s->at, num);
  s->at += num;
  return CAIRO_STATUS_SUCCESS;
}

/* Odd widths, rows that are longer than what is shown of them, a single pixel; noise, which no filter makes small, and even areas. */
static const struct { size_t width, height, stride; unsigned noise; } sizes[] = {{1, 1, 1, 0xFFFFFF}, {7, 5, 9, 0xFFFFFF}, {331, 203, 332, 0xFFFFFF}, {640, 480, 640, 0x010000}};

START_TEST(another_reader_finds_every_pixel)
{
  const size_t width = sizes[_i].width, height = sizes[_i].height, stride = sizes[_i].stride;
  uint32_t *pixel = malloc(height * stride * sizeof *pixel), x = 2463534242u;
  unsigned char *bytes = NULL;
  size_t num = 0, wrong = 0;
  ck_assert_ptr_nonnull(pixel);
  for (size_t i = 0; i < height * stride; i++) {
    x ^= x << 13, x ^= x >> 17, x ^= x << 5;
    pixel[i] = 0xFF306090u ^ (x & sizes[_i].noise);
  }
  ck_assert_int_eq(png_bytes_make(&bytes, &num, pixel, width, height, stride, NULL), STATUS_OK);
  source from = {.bytes = bytes, .num = num};
  cairo_surface_t *seen = cairo_image_surface_create_from_png_stream(give, &from);
  ck_assert_int_eq(cairo_surface_status(seen), CAIRO_STATUS_SUCCESS);
  ck_assert_int_eq(cairo_image_surface_get_width(seen), (int)width);
  ck_assert_int_eq(cairo_image_surface_get_height(seen), (int)height);
  for (size_t j = 0; j < height; j++)
    for (size_t i = 0; i < width; i++) {
      uint32_t p;
      memcpy(&p, cairo_image_surface_get_data(seen) + j * (size_t)cairo_image_surface_get_stride(seen) + i * sizeof p, sizeof p);
      wrong += ((p ^ pixel[j * stride + i]) & 0xFFFFFF) != 0;
    }
  ck_assert_uint_eq(wrong, 0);
  ck_assert_uint_eq(from.at, num); /* nothing is left over behind the end */
  cairo_surface_destroy(seen);
  free(bytes);
  free(pixel);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("png_bytes");
  TCase *c = tcase_create("png_bytes");
  tcase_add_loop_test(c, another_reader_finds_every_pixel, 0, sizeof sizes / sizeof *sizes);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
