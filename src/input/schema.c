/* schema.c - JSON Schema of a case file, from the field table, for editors that complete and check YAML. */
#include "input.h"

#include <string.h>

static void json_text(FILE *out, const char *s)
{
    fputc('"', out);
    for (; *s != '\0'; s++) {
        if (*s == '"' || *s == '\\') {
            fputc('\\', out);
        }
        fputc(*s, out);
    }
    fputc('"', out);
}

static void schema_value(FILE *out, const struct emb_field *f)
{
    char help[400];
    if (f->kind == EMB_FIELD_QUANTITY) {
        snprintf(help, sizeof help, "%s [%s]", f->help, emb_dim_units(f->dim));
        /* a bare number is a fraction; everything else is text with a unit */
        fprintf(out, f->dim == EMB_DIM_FRACTION ? "\"type\": [\"number\", \"string\"]" : "\"type\": \"string\"");
        fprintf(out, ", \"pattern\": \"^[+-]?([0-9]+\\\\.?[0-9]*|\\\\.[0-9]+)([eE][+-]?[0-9]+)?%s\"",
                f->dim == EMB_DIM_FRACTION ? "( *(%|ppm))?$" : " *([A-Za-z%\\\\u00b0]|1/).*$");
    } else if (f->kind == EMB_FIELD_INT) {
        snprintf(help, sizeof help, "%s", f->help);
        fprintf(out, "\"type\": \"integer\", \"minimum\": %.0f, \"maximum\": %.0f", f->min, f->max);
    } else if (f->kind == EMB_FIELD_BOOL) {
        snprintf(help, sizeof help, "%s", f->help);
        fprintf(out, "\"enum\": [true, false, \"yes\", \"no\", \"on\", \"off\"]");
    } else {
        snprintf(help, sizeof help, "%s", f->help);
        fprintf(out, "\"type\": [\"string\", \"number\", \"boolean\"]");
    }
    fprintf(out, ", \"description\": ");
    json_text(out, help);
    if (f->def != NULL && strcmp(f->def, EMB_UNSET) != 0) {
        fprintf(out, ", \"default\": ");
        json_text(out, f->def);
    }
}

static void schema_block(FILE *out, const struct emb_block *b);

static void schema_field(FILE *out, const struct emb_field *f)
{
    json_text(out, f->key);
    fprintf(out, ": {");
    if (f->kind == EMB_FIELD_BLOCK) {
        schema_block(out, f->block);
    } else if (f->kind == EMB_FIELD_LIST) {
        fprintf(out, "\"type\": \"array\", \"items\": {");
        schema_block(out, f->block);
        fprintf(out, "}");
    } else if (f->kind == EMB_FIELD_TEXTS) {
        fprintf(out, "\"type\": \"array\", \"items\": {\"type\": [\"string\", \"number\", \"boolean\"]}, "
                     "\"description\": ");
        json_text(out, f->help);
    } else if (f->kind == EMB_FIELD_CHOICE) {
        fprintf(out, "\"description\": ");
        json_text(out, f->help);
        fprintf(out, ", \"enum\": [");
        for (size_t i = 0; f->choices[i] != NULL; i++) {
            fprintf(out, "%s", i > 0 ? ", " : "");
            json_text(out, f->choices[i]);
        }
        fprintf(out, "], \"default\": ");
        json_text(out, f->def);
    } else {
        schema_value(out, f);
    }
    fprintf(out, "}");
}

static void schema_block(FILE *out, const struct emb_block *b)
{
    fprintf(out, "\"type\": \"object\", \"additionalProperties\": false, \"description\": ");
    json_text(out, b->help);
    fprintf(out, ", \"properties\": {");
    for (size_t i = 0; i < b->n; i++) {
        fprintf(out, "%s\n", i > 0 ? "," : "");
        schema_field(out, &b->field[i]);
    }
    fprintf(out, "}");
}

enum emb_status emb_schema_write(FILE *out, struct emb_err *err)
{
    fprintf(out, "{\"$schema\": \"https://json-schema.org/draft/2020-12/schema\", \"title\": \"Emberpipe case\", ");
    schema_block(out, &emb_block_case);
    fprintf(out, "}\n");
    return ferror(out) ? emb_fail(err, EMB_ERR_IO, "schema", "cannot be written") : EMB_OK;
}
