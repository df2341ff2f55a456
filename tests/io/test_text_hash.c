/* FNV-1a, 64 bits, against the test vectors of the IETF draft (draft-eastlake-fnv, appendix; from memory). */
#include "io/text_hash.h"

#include <check.h>
#include <stdlib.h>

START_TEST(published_vectors_come_out)
{
  static const struct {
    const char *text, *name;
  } vectors[] = {{"", "cbf29ce484222325"}, {"a", "af63dc4c8601ec8c"}, {"foobar", "85944171f73967e8"}};
  for (size_t i = 0; i < sizeof vectors / sizeof *vectors; i++) {
    char name[TEXT_HASH];
    text_hash(vectors[i].text, name);
    ck_assert_str_eq(name, vectors[i].name);
  }
}
END_TEST

START_TEST(all_bytes_count)
{
  ck_assert(text_hash_bytes("a\0b", 3) != text_hash_bytes("a\0c", 3));
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("text_hash");
  TCase *tcase = tcase_create("all");
  tcase_add_test(tcase, published_vectors_come_out);
  tcase_add_test(tcase, all_bytes_count);
  suite_add_tcase(suite, tcase);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
