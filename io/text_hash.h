/* A name for a text: equal texts have equal names, unequal ones differ but for one chance in 10^19.
 * FNV-1a, 64 bits: Fowler, Noll, Vo, "The FNV Non-Cryptographic Hash Algorithm" (IETF draft-eastlake-fnv). */
#ifndef LASTWATER_TEXT_HASH_H
#define LASTWATER_TEXT_HASH_H

#include <stddef.h>
#include <stdint.h>

enum { TEXT_HASH = 17 }; /* 16 hexadecimal digits and an end */

uint64_t text_hash_bytes(const void *bytes, size_t num);
void text_hash(const char *text, char name[TEXT_HASH]);

#endif
