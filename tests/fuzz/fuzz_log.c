/* Any bytes as a thermometer's log. Must neither crash nor leak; a refusal has a text; what is accepted has rising times and room for all it says. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "io/log_file.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
  static quantity_system *units; /* made once; the process ends with it */
  message msg = {""};
  fault_list *faults = NULL;
  char *told = NULL;
  log_file l = {0};
  if (!units && quantity_system_create(&units, &msg) != STATUS_OK)
    abort();
  if (fault_list_create(&faults, "fuzz.csv", &msg) != STATUS_OK)
    return 0;
  const status code = log_file_parse(&l, (const char *)data, size, units, faults, &msg);
  if (fault_text(faults, &told, &msg) == STATUS_OK && (code == STATUS_OK) == (told[0] != 0))
    abort();
  for (size_t i = 1; i < l.num_rows; i++)
    if (!(l.time[i] >= l.time[i - 1]) || strlen(l.name[0]) >= LOG_FILE_NAME)
      abort();
  for (size_t i = 0; i < l.num_rows * l.num_columns; i++)
    if (isinf(l.value[i]))
      abort();
  log_file_release(&l);
  free(told);
  fault_list_destroy(&faults);
  return 0;
}
