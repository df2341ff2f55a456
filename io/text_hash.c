#include "io/text_hash.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

uint64_t text_hash_bytes(const void *bytes, size_t num)
{
  const unsigned char *b = bytes;
  uint64_t hash = UINT64_C(0xcbf29ce484222325); /* offset basis */
  for (size_t i = 0; i < num; i++) {
    hash ^= b[i];
    hash *= UINT64_C(0x100000001b3); /* prime */
  }
  return hash;
}

void text_hash(const char *text, char name[TEXT_HASH])
{
  (void)snprintf(name, TEXT_HASH, "%016" PRIx64, text_hash_bytes(text, strlen(text)));
}
