/* Any bytes as a quantity: the first chooses the kind. Must neither crash nor leak, and what is accepted is finite and ordered. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "io/quantity.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
  static quantity_system *units; /* made once; the process ends with it */
  message msg = {""};
  quantity q = {0};
  if (!units && quantity_system_create(&units, &msg) != STATUS_OK)
    abort();
  if (size < 1)
    return 0;
  char *text = malloc(size);
  if (!text)
    return 0;
  memcpy(text, data + 1, size - 1);
  text[size - 1] = 0;
  const quantity_kind kind = (quantity_kind)(data[0] % QUANTITY_NUM_KINDS);
  if (quantity_parse(units, kind, text, &q, &msg) == STATUS_OK) {
    if (!isfinite(q.value) || !(q.low <= q.value) || !(q.value <= q.high))
      abort();
  } else if (!msg.text[0]) {
    abort(); /* a refusal says why */
  }
  free(text);
  return 0;
}
