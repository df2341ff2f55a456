/* JSON written by hand into a page: what cannot be known is null, and nothing in it can end the script that holds it. */
#ifndef LASTWATER_PAGE_JSON_H
#define LASTWATER_PAGE_JSON_H

#include <stddef.h>
#include <stdio.h>

void page_json_text(FILE *to, const char *text);  /* as a string                            */
void page_json_raw(FILE *to, const char *text);   /* JSON text as it is, made safe          */
void page_json_key(FILE *to, const char *name);   /* "name":                                */
void page_json_number(FILE *to, double value);    /* twelve digits; null when not finite    */
void page_json_numbers(FILE *to, const double *values, size_t num);

#endif
