/* Any bytes as a case file. Must neither crash nor leak; a refusal has a text; what is accepted writes itself out and reads back.
 * Every input goes through the reader of forms (YAML, keys, units, names); one in 64, by its own bytes, is built to the end, which
 * takes a thousand times as long. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "io/case_file.h"
#include "io/case_keys.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void read_form(const char *text, size_t size)
{
  static quantity_system *units; /* made once; the process ends with it */
  message msg = {""};
  yaml_node *root = NULL;
  fault_list *faults = NULL;
  char *told = NULL;
  if (!units && quantity_system_create(&units, &msg) != STATUS_OK)
    abort();
  if (fault_list_create(&faults, "fuzz.yaml", &msg) != STATUS_OK)
    return;
  const status code = yaml_tree_parse(&root, text, size, faults, &msg);
  if (code == STATUS_BAD_INPUT && fault_count(faults) == 0)
    abort();
  if (code == STATUS_OK)
    case_keys_check(root, units, faults);
  if (fault_text(faults, &told, &msg) == STATUS_OK && (fault_count(faults) > 0) != (told[0] != 0))
    abort();
  free(told);
  yaml_tree_destroy(&root);
  fault_list_destroy(&faults);
}

static void build_and_write(const char *text, size_t size)
{
  case_file *c = NULL, *again = NULL;
  char *faults = NULL, *resolved = NULL;
  message msg = {""};
  const status code = case_file_parse(&c, "fuzz.yaml", text, size, NULL, 0, &faults, &msg);
  if (code == STATUS_BAD_INPUT && (!faults || !faults[0]))
    abort();
  if (code == STATUS_OK && case_file_resolved(c, &resolved, &msg) == STATUS_OK &&
      case_file_parse(&again, "again.yaml", resolved, strlen(resolved), NULL, 0, &faults, &msg) == STATUS_BAD_INPUT)
    abort();
  case_file_destroy(&again);
  case_file_destroy(&c);
  free(resolved);
  free(faults);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
  uint32_t hash = 2166136261u; /* FNV-1a */
  for (size_t i = 0; i < size; i++)
    hash = (hash ^ data[i]) * 16777619u;
  read_form((const char *)data, size);
  if (hash % 64 == 0)
    build_and_write((const char *)data, size);
  return 0;
}
