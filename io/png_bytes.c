#include "io/png_bytes.h"

#include <stdlib.h>
#include <string.h>
#include <zlib.h>

enum { HEAD = 8 + 25, AROUND = 12, COLOURS = 3, UP = 2, LEVEL = 3 }; /* signature and IHDR; length, name and check sum of a chunk */

static unsigned char *put_number(unsigned char *at, uint32_t value)
{
  for (int i = 0; i < 4; i++)
    at[i] = (unsigned char)(value >> (24 - 8 * i));
  return at + 4;
}

/* A chunk whose `size` bytes of data stand 8 behind `at`. */
static unsigned char *close_chunk(unsigned char *at, const char name[4], size_t size)
{
  memcpy(put_number(at, (uint32_t)size), name, 4);
  return put_number(at + 8 + size, (uint32_t)crc32(0, at + 4, (uInt)(4 + size)));
}

static unsigned char *put_head(unsigned char *at, size_t width, size_t height)
{
  static const unsigned char signature[8] = {0x89, 'P', 'N', 'G', '\r', '\n', 0x1A, '\n'}, kind[5] = {8, 2, 0, 0, 0};
  memcpy(at, signature, sizeof signature);
  at += sizeof signature;
  memcpy(put_number(put_number(at + 8, (uint32_t)width), (uint32_t)height), kind, sizeof kind);
  return close_chunk(at, "IHDR", 8 + sizeof kind);
}

static void filter_row(unsigned char *to, const uint32_t *row, const uint32_t *above, size_t width)
{
  *to++ = UP;
  for (size_t i = 0; i < width; i++)
    for (int shift = 16; shift >= 0; shift -= 8)
      *to++ = (unsigned char)((row[i] >> shift) - (above ? above[i] >> shift : 0));
}

status png_bytes_make(unsigned char **out, size_t *num, const uint32_t *pixel, size_t width, size_t height, size_t stride, message *msg)
{
  const size_t row = 1 + COLOURS * width;
  uLongf packed = compressBound((uLong)(row * height));
  unsigned char *plain = malloc(row * height), *bytes = malloc(HEAD + AROUND + packed + AROUND);
  if (!plain || !bytes) {
    free(plain);
    free(bytes);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a picture", 2 * row * height);
  }
  for (size_t j = 0; j < height; j++)
    filter_row(plain + j * row, pixel + j * stride, j ? pixel + (j - 1) * stride : NULL, width);
  unsigned char *at = put_head(bytes, width, height);
  const int fault = compress2(at + 8, &packed, plain, (uLong)(row * height), LEVEL);
  free(plain);
  if (fault != Z_OK) {
    free(bytes);
    return message_set(msg, fault == Z_MEM_ERROR ? STATUS_NO_MEMORY : STATUS_FAILED, "a picture of %zu x %zu pixels cannot be compressed", width, height);
  }
  at = close_chunk(close_chunk(at, "IDAT", packed), "IEND", 0);
  *out = bytes;
  *num = (size_t)(at - bytes);
  return STATUS_OK;
}
