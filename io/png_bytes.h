/* The bytes of a PNG file (ISO/IEC 15948): red, green and blue of 8 bits each, not interlaced. Every row is held as its differences to the
 * row above (filter type 2), which leaves little of large even areas and of shades that change slowly, and is compressed quickly: the six
 * pictures of a run in (r, z), 1600 pixels wide, in 0.13 s; a choice of filter for every row and zlib's usual effort took 0.44 s and made
 * them 15 % smaller. */
#ifndef LASTWATER_PNG_BYTES_H
#define LASTWATER_PNG_BYTES_H

#include <stddef.h>
#include <stdint.h>

#include "io/status.h"

/* pixel[height][stride]: 0x..RRGGBB, the first `width` of a row. *out is the caller's, free() it; untouched unless STATUS_OK. */
status png_bytes_make(unsigned char **out, size_t *num, const uint32_t *pixel, size_t width, size_t height, size_t stride, message *msg);

#endif
