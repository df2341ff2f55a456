#include "io/page_block.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

void page_block_base64(FILE *to, const unsigned char *bytes, size_t num)
{
  static const char digits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  for (size_t i = 0; i < num; i += 3) {
    const unsigned b0 = bytes[i], b1 = i + 1 < num ? bytes[i + 1] : 0, b2 = i + 2 < num ? bytes[i + 2] : 0;
    const char four[4] = {digits[b0 >> 2], digits[(b0 & 3) << 4 | b1 >> 4], i + 1 < num ? digits[(b1 & 15) << 2 | b2 >> 6] : '=',
                          i + 2 < num ? digits[b2 & 63] : '='};
    (void)fwrite(four, 1, 4, to);
  }
}

status page_block_bytes(FILE *to, const unsigned char *bytes, size_t num, message *msg)
{
  uLongf length = compressBound((uLong)num);
  unsigned char *packed = malloc(length);
  if (!packed || compress2(packed, &length, bytes, (uLong)num, 6) != Z_OK) {
    free(packed);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the page", (size_t)length);
  }
  page_block_base64(to, packed, length);
  free(packed);
  return STATUS_OK;
}

/* The bits of a float, rounded to the planes that are kept; what is not finite becomes the one NAN that the page knows. */
static uint32_t bits_of(float value, int planes)
{
  uint32_t bits;
  if (!isfinite(value))
    return UINT32_C(0x7FC00000);
  memcpy(&bits, &value, sizeof bits);
  if (planes == 4)
    return bits;
  const uint32_t rounded = bits + 0x7F + ((bits >> 8) & 1);
  return (rounded & UINT32_C(0x7F800000)) == UINT32_C(0x7F800000) ? bits : rounded; /* the largest of all keep their lower bound */
}

status page_block_floats(FILE *to, const float *values, size_t num, int planes, message *msg)
{
  unsigned char *bytes = malloc(num * (size_t)planes + 1);
  if (!bytes)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the page", num * (size_t)planes);
  for (size_t i = 0; i < num; i++) {
    const uint32_t bits = bits_of(values[i], planes);
    for (int plane = 0; plane < planes; plane++)
      bytes[(size_t)plane * num + i] = (unsigned char)(bits >> (24 - 8 * plane));
  }
  const status code = page_block_bytes(to, bytes, num * (size_t)planes, msg);
  free(bytes);
  return code;
}
