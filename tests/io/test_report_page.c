/* What goes into a page: whole, escaped, nothing from outside; a run too large for a page is thinned, and says so. */
#include <check.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "io/report_page.h"
#include "io/stored_run.h"
#include "io/whole_file.h"
#include "made_up_run.h"
#include "scratch.h"

static char dir[SCRATCH_PATH];

static void set_up(void) { scratch_create(dir); }
static void tear_down(void) { scratch_remove(dir); }

/* The page of what stands in dir; free() it. */
static char *page_of(size_t *num_bytes)
{
  stored_run s;
  message msg = {""};
  char path[WHOLE_FILE_PATH];
  ck_assert_msg(stored_run_open(&s, dir, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_int_eq(whole_file_join(path, dir, REPORT_PAGE_NAME, &msg), STATUS_OK);
  const report_page_run one = {.directory = dir, .label = s.label, .of = s.of, .mesh = s.mesh};
  ck_assert_msg(report_page_write(path, &one, &msg) == STATUS_OK, "%s", msg.text);
  stored_run_close(&s);
  char *page = scratch_read(dir, REPORT_PAGE_NAME, num_bytes);
  ck_assert_ptr_nonnull(page);
  return page;
}

START_TEST(page_holds_its_summary_and_nothing_from_outside)
{
  (void)made_up_run_write(dir, TEST_DATA "/brick.yaml", "title=A </script><b>brick</b> & more", 4);
  scratch_write(dir, "summary.txt", "A <brick>\n", 10);
  char *page = page_of(NULL);
  static const char *const said[] = {"<title>A &lt;/script&gt;&lt;b&gt;brick", "A &lt;brick&gt;", "\"complete\": true", "\"stride\":1", "\"time_stride\":1", "</html>"};
  for (size_t i = 0; i < sizeof said / sizeof *said; i++)
    ck_assert_msg(strstr(page, said[i]) != NULL, "the page does not hold: %s", said[i]);
  static const char *const never[] = {"@@", "<b>brick", "src=\"http", "https://", "@import", "url(http"};
  for (size_t i = 0; i < sizeof never / sizeof *never; i++)
    ck_assert_msg(strstr(page, never[i]) == NULL, "the page holds: %s", never[i]);
  free(page);
}
END_TEST

/* Two figures a cell and time, 40 times: more than 7 million. */
START_TEST(run_too_large_for_a_page_is_thinned_and_says_so)
{
  size_t num_bytes = 0;
  if (getenv("LASTWATER_BRIEF"))
    return; /* ten times as long under sanitizers, and the same code as above */
  const size_t cells = made_up_run_write(dir, TEST_DATA "/brick.yaml", "grid.spacing=1.9 mm", 40);
  ck_assert_uint_gt(cells, 100000);
  char *page = page_of(&num_bytes);
  ck_assert(strstr(page, "\"stride\":2") != NULL || strstr(page, "\"time_stride\":2") != NULL || strstr(page, "\"stride\":3") != NULL);
  ck_assert_ptr_nonnull(strstr(page, "This run is too large for one page"));
  ck_assert_uint_lt(num_bytes, 10000000);
  free(page);
}
END_TEST

START_TEST(directory_without_results_is_refused_by_name)
{
  stored_run s;
  message msg = {""};
  ck_assert_int_eq(stored_run_open(&s, dir, &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(msg.text, "holds no case.yaml"));
  (void)made_up_run_write(dir, TEST_DATA "/brick.yaml", "grid.spacing=6.5 mm", 3);
  scratch_write(dir, "summary.json", "{\"format\": 1, ", 14);
  ck_assert_int_eq(stored_run_open(&s, dir, &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(msg.text, "summary.json:"));
  scratch_write(dir, "summary.json", "{\"format\": 7}", 13);
  ck_assert_int_eq(stored_run_open(&s, dir, &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(msg.text, "format 7"));
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("report_page");
  TCase *tcase = tcase_create("report_page");
  tcase_add_checked_fixture(tcase, set_up, tear_down);
  tcase_add_test(tcase, page_holds_its_summary_and_nothing_from_outside);
  tcase_add_test(tcase, run_too_large_for_a_page_is_thinned_and_says_so);
  tcase_add_test(tcase, directory_without_results_is_refused_by_name);
  suite_add_tcase(suite, tcase);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
