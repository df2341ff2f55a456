/* The command line: what is taken, and what is refused with the closest word. */
#include <check.h>
#include <stdlib.h>
#include <string.h>

#include "io/case_keys.h"
#include "io/nearest.h"
#include "io/options.h"

enum { MOST_WORDS = 12 };

static int split(const char *line, char *storage, char *argv[MOST_WORDS])
{
  int argc = 0;
  strcpy(storage, line);
  for (char *p = strtok(storage, "|"); p && argc < MOST_WORDS; p = strtok(NULL, "|"))
    argv[argc++] = p;
  return argc;
}

static status read_line(const char *line, char *storage, options *o, message *msg)
{
  char *argv[MOST_WORDS];
  return options_read(o, split(line, storage, argv), argv, msg);
}

START_TEST(command_case_and_options_in_any_order)
{
  char storage[256];
  options o;
  message msg = {""};
  const status code = read_line("lastwater|--quiet|run|--set|a.b=3 mm|rig.yaml|-o|out|--set=c=4|--threads=2|--resume|--json", storage, &o, &msg);
  ck_assert_msg(code == STATUS_OK, "%s", msg.text);
  ck_assert_int_eq(o.command, COMMAND_RUN);
  ck_assert_str_eq(o.case_path, "rig.yaml");
  ck_assert_str_eq(o.directory, "out");
  ck_assert_uint_eq(o.num_overrides, 2);
  ck_assert_str_eq(o.overrides[0], "a.b=3 mm");
  ck_assert_str_eq(o.overrides[1], "c=4");
  ck_assert_int_eq(o.threads, 2);
  ck_assert(o.resume && o.quiet && o.json && !o.help && !o.version);
  options_release(&o);
}
END_TEST

START_TEST(help_and_version_need_no_case)
{
  static const char *const lines[] = {"lastwater|--help", "lastwater|-h|run", "lastwater|--version", "lastwater|--help|keys", "lastwater|check|--help"};
  for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
    char storage[256];
    options o;
    message msg = {""};
    ck_assert_msg(read_line(lines[i], storage, &o, &msg) == STATUS_OK, "%s: %s", lines[i], msg.text);
    ck_assert(o.help || o.version);
    options_release(&o);
  }
}
END_TEST

/* After "--" a case may have any name. */
START_TEST(two_hyphens_end_the_options)
{
  char storage[256];
  options o;
  message msg = {""};
  ck_assert_int_eq(read_line("lastwater|check|--|--json", storage, &o, &msg), STATUS_OK);
  ck_assert_str_eq(o.case_path, "--json");
  ck_assert(!o.json);
  options_release(&o);
}
END_TEST

static const struct {
  const char *line, *says;
} refused[] = {
    {"lastwater", "say what to do"},
    {"lastwater|run", "name the case file"},
    {"lastwater|runn|a.yaml", "the closest is run"},
    {"lastwater|frobnicate|a.yaml", "unknown command"},
    {"lastwater|run|a.yaml|b.yaml", "one case at a time"},
    {"lastwater|run|a.yaml|--resum", "the closest is --resume"},
    {"lastwater|run|a.yaml|-x", "unknown option -x"},
    {"lastwater|run|a.yaml|--threads|0", "whole number from 1"},
    {"lastwater|run|a.yaml|--threads|two", "whole number from 1"},
    {"lastwater|run|a.yaml|--threads|2x", "whole number from 1"},
    {"lastwater|run|a.yaml|--threads|99999999999999999999", "whole number from 1"},
    {"lastwater|run|a.yaml|--threads", "needs N after it"},
    {"lastwater|run|a.yaml|-o", "needs DIR after it"},
    {"lastwater|run|a.yaml|--quiet=yes", "takes no value"},
    {"lastwater|check|a.yaml|--resume", "--resume does not go with this command"},
    {"lastwater|estimate|a.yaml|-o|d", "does not go with this command"},
};

START_TEST(wrong_command_line_says_what_is_wrong)
{
  char storage[256];
  options o;
  message msg = {""};
  ck_assert_int_eq(read_line(refused[_i].line, storage, &o, &msg), STATUS_BAD_INPUT);
  ck_assert_msg(strstr(msg.text, refused[_i].says) != NULL, "\"%s\" lacks \"%s\"", msg.text, refused[_i].says);
  ck_assert_ptr_null(o.overrides);
}
END_TEST

/* Distances worked out by hand: insert, drop, replace, swap of neighbours count one each. */
START_TEST(nearest_word_is_by_fewest_changes)
{
  static const char *const words[] = {"wall", "height", "temperature", "top_radius"};
  ck_assert_uint_eq(nearest_distance("wal", "wall", 9), 1);
  ck_assert_uint_eq(nearest_distance("hieght", "height", 9), 1);
  ck_assert_uint_eq(nearest_distance("kitten", "sitting", 9), 3);
  ck_assert_uint_eq(nearest_distance("abc", "xyz", 1), 2);
  ck_assert_uint_eq(nearest_distance("Wall", "wall", 9), 0);
  ck_assert_str_eq(nearest_word("hieght", words, 4), "height");
  ck_assert_str_eq(nearest_word("temp", words, 4), "temperature");
  ck_assert_str_eq(nearest_word("top-radius", words, 4), "top_radius");
  static const char *const solids[] = {"aluminium 3003", "pla", "stainless steel 304", "pu foam"};
  ck_assert_str_eq(nearest_word("steel", solids, 4), "stainless steel 304");
  ck_assert_str_eq(nearest_word("stainles steel", solids, 4), "stainless steel 304");
  ck_assert_str_eq(nearest_word("alu", solids, 4), "aluminium 3003");
  ck_assert_ptr_null(nearest_word("oam", solids, 4));
  ck_assert_ptr_null(nearest_word("colour", words, 4));
  ck_assert_ptr_null(nearest_word("", words, 4));
}
END_TEST

/* The one table of keys: no key twice, defaults that are themselves accepted, help for each. */
START_TEST(table_of_keys_is_consistent)
{
  quantity_system *units = NULL;
  message msg = {""};
  ck_assert_int_eq(quantity_system_create(&units, &msg), STATUS_OK);
  for (size_t i = 0; i < case_keys_num(); i++) {
    const case_key *k = case_keys_at(i);
    quantity q;
    ck_assert_ptr_eq(case_keys_find(k->section, k->key), k);
    ck_assert_msg(k->help && strlen(k->help) > 3, "%s has no help", k->key);
    ck_assert_msg(!(k->required && k->preset), "%s is required and has a default", k->key);
    if (k->preset && (k->type == VALUE_QUANTITY || k->type == VALUE_SCHEDULE))
      ck_assert_msg(quantity_parse(units, k->kind, k->preset, &q, &msg) == STATUS_OK, "%s: %s", k->key, msg.text);
    if (k->preset && k->type == VALUE_CHOICE)
      ck_assert_msg(case_keys_is_choice(k->choices, k->preset), "%s: %s is no choice", k->key, k->preset);
  }
  quantity_system_destroy(&units);
}
END_TEST

START_TEST(choices_are_whole_words)
{
  ck_assert(case_keys_is_choice("rz|xyz", "rz"));
  ck_assert(case_keys_is_choice("rz|xyz", "xyz"));
  ck_assert(!case_keys_is_choice("rz|xyz", "xy"));
  ck_assert(!case_keys_is_choice("rz|xyz", ""));
  ck_assert(!case_keys_is_choice("rz|xyz", "rz|xyz"));
  ck_assert_int_eq(case_keys_choice_index("rz|xyz", "xyz"), 1);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("options");
  TCase *line = tcase_create("line");
  tcase_add_test(line, command_case_and_options_in_any_order);
  tcase_add_test(line, help_and_version_need_no_case);
  tcase_add_test(line, two_hyphens_end_the_options);
  tcase_add_loop_test(line, wrong_command_line_says_what_is_wrong, 0, (int)(sizeof refused / sizeof *refused));
  tcase_add_test(line, nearest_word_is_by_fewest_changes);
  tcase_add_test(line, table_of_keys_is_consistent);
  tcase_add_test(line, choices_are_whole_words);
  suite_add_tcase(suite, line);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
