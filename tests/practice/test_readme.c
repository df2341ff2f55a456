/* What the README shows is run: its case file is taken out of it and given to the program. */
#include <check.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

enum { LINE = 512 };

/* Copies the first yaml block of the README to a file; returns its number of lines. */
static int take_case_out(const char *to)
{
  char line[LINE];
  int lines = 0;
  bool inside = false;
  FILE *readme = fopen(TEST_DATA "/../../README.md", "r"), *out = fopen(to, "w");
  ck_assert_ptr_nonnull(readme);
  ck_assert_ptr_nonnull(out);
  while (fgets(line, sizeof line, readme)) {
    if (inside && strncmp(line, "```", 3) == 0)
      break;
    if (inside) {
      ck_assert_int_ge(fputs(line, out), 0);
      lines++;
    }
    inside = inside || strncmp(line, "```yaml", 7) == 0;
  }
  ck_assert_int_eq(fclose(readme), 0);
  ck_assert_int_eq(fclose(out), 0);
  return lines;
}

static int exit_code_of(const char *arguments, const char *dir)
{
  char command[2 * LINE];
  (void)snprintf(command, sizeof command, "cd '%s' && '%s' %s >out.txt 2>err.txt", dir, PROGRAM, arguments);
  const int status = system(command);
  return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

static bool holds(const char *dir, const char *file, const char *text)
{
  char path[LINE], all[65536];
  (void)snprintf(path, sizeof path, "%s/%s", dir, file);
  FILE *in = fopen(path, "r");
  if (!in)
    return false;
  const size_t got = fread(all, 1, sizeof all - 1, in);
  all[got] = '\0';
  (void)fclose(in);
  return strstr(all, text) != NULL;
}

START_TEST(case_in_the_readme_is_understood_and_freezes)
{
  char dir[] = "/tmp/lastwater_readme_XXXXXX", path[LINE];
  ck_assert_ptr_nonnull(mkdtemp(dir));
  (void)snprintf(path, sizeof path, "%s/case.yaml", dir);
  ck_assert_int_gt(take_case_out(path), 20);
  ck_assert_int_eq(exit_code_of("check case.yaml", dir), 0);
  ck_assert_int_eq(exit_code_of("run case.yaml --quiet", dir), 0);
  ck_assert(holds(dir, "case.result/summary.json", "\"freeze\""));
  ck_assert(holds(dir, "case.result/summary.json", "\"complete\": true"));
  /* The file table of the README: each file that it promises is there. */
  const char *const promised[] = {"summary.txt", "series.csv", "fields.xdmf", "case.yaml", "log.txt", "pictures/section.png",
                                  "pictures/freeze_time.png"};
  for (size_t i = 0; i < sizeof promised / sizeof *promised; i++) {
    (void)snprintf(path, sizeof path, "%s/case.result/%s", dir, promised[i]);
    ck_assert_msg(access(path, R_OK) == 0, "the README promises %s, which is not there", promised[i]);
  }
  (void)snprintf(path, sizeof path, "rm -rf '%s'", dir);
  ck_assert_int_eq(system(path), 0);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("readme");
  TCase *tcase = tcase_create("readme");
  tcase_set_timeout(tcase, 300);
  tcase_add_test(tcase, case_in_the_readme_is_understood_and_freezes);
  suite_add_tcase(suite, tcase);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
