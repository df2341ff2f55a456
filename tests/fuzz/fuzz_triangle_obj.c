/* Any bytes as an OBJ file. Must neither crash nor leak (triangle_solid.h says what else). */
#include <stdint.h>

#include "triangle_solid.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
  triangle_file f;
  message msg = {""};
  const status code = triangle_file_read_obj(&f, "fuzz.obj", (const char *)data, size, &msg);
  triangle_solid_judge(code, &f, &msg);
  return 0;
}
