/* Arrays of figures as text that a page can hold: bytes in planes, compressed (zlib), base64 (RFC 4648).
 *
 * A float32 is cut into four byte planes, highest first; with `planes` 3 the lowest is left out, which rounds to 15 bits of mantissa
 * (relative error at most 1.6e-5): exact for fields that field_store rounded to 13 bits. The page reads planes back by their number. */
#ifndef LASTWATER_PAGE_BLOCK_H
#define LASTWATER_PAGE_BLOCK_H

#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "io/status.h"

/* Base64 of bytes, as they are. A fault of the stream stays in its error mark. */
void page_block_base64(FILE *to, const unsigned char *bytes, size_t num);
/* Compressed, then base64. */
status page_block_bytes(FILE *to, const unsigned char *bytes, size_t num, message *msg);
/* planes 3 or 4. */
status page_block_floats(FILE *to, const float *values, size_t num, int planes, message *msg);

#endif
