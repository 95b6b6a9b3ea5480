/* cmd_explain.c - the field table, told to people and to editors. */
#include "cli.h"
#include "emberpipe/field.h"
#include "emberpipe/report.h"

enum emb_status emb_cmd_explain(const struct emb_cli_args *a, struct emb_err *err)
{
    const enum emb_status st = emb_explain(stdout, a->word, err);
    return st != EMB_OK ? st : emb_report_flush(stdout, "standard output", err);
}

enum emb_status emb_cmd_schema(const struct emb_cli_args *a, struct emb_err *err)
{
    (void)a;
    const enum emb_status st = emb_schema_write(stdout, err);
    return st != EMB_OK ? st : emb_report_flush(stdout, "standard output", err);
}
