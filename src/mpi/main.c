/* main.c - emberpipe-mpi: one study on many processes, on one machine or on many.
 *
 * Cases are handed out by a counter that lives on rank 0 and is raised by MPI_Fetch_and_op, so the
 * fast ranks take more of them. Every rank sends its finished records to rank 0, the only one that
 * writes, which computes too and looks for mail between the steps of its own cases. A record is in
 * the journal before its sender may overwrite it, and nothing else is kept, so a killed job loses
 * the cases in flight and any other number of ranks can go on. */
#include <mpi.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "../cli/signals.h"
#include "../cli/study_talk.h"

enum { TAG_RECORD = 1, TAG_LEAVE = 2, SYNC_SECONDS = 10 };

struct head { /* of a message; then values, outputs, traces */
    unsigned long long id;
    int status;
    double seconds; /* [s] */
    char reason[256];
};
struct crew {
    struct emb_study s;
    int rank, size, left; /* left: ranks that have not said goodbye yet (rank 0) */
    MPI_Win window;
    long long *counter;  /* rank 0's memory */
    unsigned char *done; /* a bit a case, the same everywhere */
    size_t bytes;        /* of a message */
    char *mail, *letter; /* received; being sent */
    MPI_Request sending;
    struct emb_record record;
    struct emb_journal *journal; /* rank 0 */
    struct emb_signals signals;
    struct emb_study_progress p;
    struct emb_study_talk talk;
    double began, looked, synced; /* [s] */
    struct emb_err err;
    bool odd_one;
};

static size_t size_values(const struct crew *c)
{
    return c->s.n_axis * sizeof(double);
}
static size_t size_outputs(const struct crew *c)
{
    return c->s.n_output * sizeof(double);
}
static size_t size_traces(const struct crew *c)
{
    return c->s.n_trace * c->s.n_time * sizeof(float);
}

static void letter_write(struct crew *c)
{
    struct head h = {0};
    char *p = c->letter;
    h.id = c->record.id;
    h.status = c->record.status;
    h.seconds = c->record.seconds;
    snprintf(h.reason, sizeof h.reason, "%s", c->record.reason);
    memcpy(p, &h, sizeof h);
    memcpy(p += sizeof h, c->record.values, size_values(c));
    memcpy(p += size_values(c), c->record.outputs, size_outputs(c));
    p += size_outputs(c);
    if (size_traces(c) > 0) {
        memcpy(p, c->record.traces, size_traces(c));
    }
}

static void letter_read(struct crew *c)
{
    struct head h;
    const char *p = c->mail;
    memcpy(&h, p, sizeof h);
    c->record.id = (size_t)h.id;
    c->record.status = h.status;
    c->record.seconds = h.seconds;
    memcpy(c->record.reason, h.reason, sizeof h.reason);
    memcpy(c->record.values, p += sizeof h, size_values(c));
    memcpy(c->record.outputs, p += size_values(c), size_outputs(c));
    p += size_outputs(c);
    if (size_traces(c) > 0) {
        memcpy(c->record.traces, p, size_traces(c));
    }
}

/* Rank 0: the record at hand goes to disk. */
static enum emb_status keep(struct crew *c)
{
    enum emb_status st = emb_journal_put(c->journal, &c->record, &c->err);
    const double now = MPI_Wtime();
    if (st == EMB_OK && now - c->synced > SYNC_SECONDS) {
        st = emb_journal_sync(c->journal, &c->err);
        c->synced = now;
    }
    if (st != EMB_OK) {
        atomic_store(&c->signals.stop, true);
        return st;
    }
    c->p.done = emb_journal_info(c->journal)->done;
    c->p.failed = emb_journal_info(c->journal)->failed;
    c->p.fresh++;
    emb_study_progress_update(&c->p, now - c->began);
    emb_study_talk_progress(&c->p, &c->talk);
    return EMB_OK;
}

/* Rank 0: takes what has arrived. After a failure mail is still taken, so that no rank hangs. */
static void mail_take(struct crew *c)
{
    int any = 1;
    while (any) {
        MPI_Status from;
        MPI_Iprobe(MPI_ANY_SOURCE, MPI_ANY_TAG, MPI_COMM_WORLD, &any, &from);
        if (any) {
            MPI_Recv(c->mail, (int)c->bytes, MPI_BYTE, from.MPI_SOURCE, from.MPI_TAG,
                     MPI_COMM_WORLD, MPI_STATUS_IGNORE);
            c->left -= from.MPI_TAG == TAG_LEAVE;
            if (from.MPI_TAG == TAG_RECORD && c->err.status == EMB_OK) {
                letter_read(c);
                keep(c);
            }
        }
    }
}

/* Also what lets the others reach the counter when they are on other machines. */
static void poll_mail(void *user)
{
    struct crew *c = user;
    const double now = MPI_Wtime();
    if (c->rank == 0 && now - c->looked > 0.005) { /* [s] far below a case, far above a look */
        c->looked = now;
        mail_take(c);
    }
}

/* Raises the counter by one. When the job has been told to stop, it jumps to the end for all. */
static long long counter_raise(struct crew *c, long long by)
{
    long long was = 0;
    MPI_Win_lock(MPI_LOCK_SHARED, 0, 0, c->window);
    MPI_Fetch_and_op(&by, &was, MPI_LONG_LONG, 0, 0, MPI_SUM, c->window);
    MPI_Win_unlock(0, c->window);
    return was;
}

static bool next(size_t *i, void *user)
{
    struct crew *c = user;
    long long at;
    do {
        at = counter_raise(c, 1);
    } while (at < (long long)c->s.n && (c->done[at / 8] >> at % 8 & 1) != 0);
    *i = (size_t)at;
    return at < (long long)c->s.n;
}

static enum emb_status make(size_t i, void *user, struct emb_case *out, struct emb_err *err)
{
    struct crew *c = user;
    emb_study_values(&c->s, i, c->record.values);
    return emb_study_make(&c->s, c->record.values, out, err);
}

static enum emb_status take(size_t i, enum emb_status status, const struct emb_err *why,
                            const struct emb_result *r, void *user)
{
    struct crew *c = user;
    emb_record_take(&c->s, i, status, why, r, &c->record);
    if (c->rank == 0) {
        return keep(c);
    }
    MPI_Wait(&c->sending, MPI_STATUS_IGNORE);
    letter_write(c);
    MPI_Isend(c->letter, (int)c->bytes, MPI_BYTE, 0, TAG_RECORD, MPI_COMM_WORLD, &c->sending);
    return EMB_OK;
}

/* A short sleep instead of a spin: another rank may need this core. */
static void nap(void)
{
    const struct timespec t = {0, 2000000}; /* 2 ms */
    nanosleep(&t, NULL);
}

static void work(struct crew *c)
{
    const struct emb_batch b = {.threads = 1,
                                .next = next,
                                .make = make,
                                .take = take,
                                .poll = poll_mail,
                                .user = c,
                                .max_steps = c->s.cfg.max_steps,
                                .stop = &c->signals.stop};
    emb_batch_run(&b, &c->err);
    if (atomic_load(&c->signals.stop)) {
        counter_raise(c, (long long)c->s.n);
    }
    if (c->rank == 0) {
        for (mail_take(c); c->left > 0; mail_take(c)) {
            nap();
        }
        return;
    }
    MPI_Wait(&c->sending, MPI_STATUS_IGNORE);
    MPI_Send(c->letter, 0, MPI_BYTE, 0, TAG_LEAVE, MPI_COMM_WORLD);
}

/* All ranks must have read the same study, and all learn whether the start has worked. */
static enum emb_status agree(struct crew *c, enum emb_status st, struct emb_err *err)
{
    unsigned long long mine[2] = {(unsigned long long)st, c->s.digest}, least[2], most[2];
    MPI_Allreduce(mine, least, 2, MPI_UNSIGNED_LONG_LONG, MPI_MIN, MPI_COMM_WORLD);
    MPI_Allreduce(mine, most, 2, MPI_UNSIGNED_LONG_LONG, MPI_MAX, MPI_COMM_WORLD);
    c->odd_one = st != EMB_OK && least[0] == EMB_OK; /* others could start, this one could not */
    if (st == EMB_OK && most[0] != EMB_OK) {
        st = emb_fail(err, (enum emb_status)most[0], "", "another rank could not start");
    }
    if (st == EMB_OK && least[1] != most[1]) {
        st = emb_fail(err, EMB_ERR_CONFIG, c->s.cfg.file, "the ranks do not see the same files");
    }
    return st;
}

static enum emb_status begin(struct crew *c, const struct emb_cli_args *a, const char *journal,
                             struct emb_err *err)
{
    enum emb_status st = EMB_OK;
    c->bytes = sizeof(struct head) + size_values(c) + size_outputs(c) + size_traces(c);
    c->mail = calloc(1, c->bytes);
    c->letter = calloc(1, c->bytes);
    st = emb_record_make(c->s.n_axis, c->s.n_output, c->s.n_trace * c->s.n_time, &c->record, err);
    if (st == EMB_OK && c->rank == 0) {
        st = emb_journal_open(journal, &c->s, a->fresh, a->retry, &c->journal, err);
        st = st == EMB_OK ? emb_journal_done(c->journal, &c->done, err) : st;
    } else if (st == EMB_OK) {
        c->done = calloc(c->s.n / 8 + 1, 1);
    }
    if (st == EMB_OK && (c->mail == NULL || c->letter == NULL || c->done == NULL)) {
        st = emb_fail(err, EMB_ERR_NOMEM, "", "out of memory");
    }
    return agree(c, st, err);
}

static enum emb_status study(struct crew *c, const struct emb_cli_args *a, const char *journal,
                             struct emb_err *err)
{
    enum emb_status st = begin(c, a, journal, err);
    if (st != EMB_OK) {
        return st;
    }
    MPI_Bcast(c->done, (int)(c->s.n / 8 + 1), MPI_BYTE, 0, MPI_COMM_WORLD);
    MPI_Win_allocate(c->rank == 0 ? sizeof *c->counter : 0, sizeof *c->counter, MPI_INFO_NULL,
                     MPI_COMM_WORLD, &c->counter, &c->window);
    if (c->rank == 0) {
        *c->counter = 0;
        c->p.n = c->s.n;
        c->p.done = emb_journal_info(c->journal)->done;
        c->p.failed = emb_journal_info(c->journal)->failed;
    }
    MPI_Barrier(MPI_COMM_WORLD);
    c->began = c->synced = MPI_Wtime();
    work(c);
    MPI_Win_free(&c->window);
    if (c->rank == 0 && c->err.status == EMB_OK) {
        emb_journal_sync(c->journal, &c->err);
    }
    if (c->err.status != EMB_OK) {
        return emb_fail(err, c->err.status, c->err.where, "%s", c->err.msg);
    }
    emb_study_progress_update(&c->p, MPI_Wtime() - c->began);
    return c->rank == 0 ? emb_study_talk_end(&c->p, &c->talk, journal, err) : EMB_OK;
}

static void crew_free(struct crew *c)
{
    emb_journal_close(c->journal);
    emb_record_drop(&c->record);
    emb_study_free(&c->s);
    free(c->mail);
    free(c->letter);
    free(c->done);
}

static enum emb_status run(const struct emb_cli_args *a, struct crew *c, struct emb_err *err)
{
    char name[300];
    enum emb_status st = EMB_OK;
    if (a->word == NULL || a->n_word > 1 || a->help) {
        return emb_fail(err, EMB_ERR_USAGE, "",
                        "use: mpirun -n RANKS emberpipe-mpi FILE [--journal "
                        "FILE] [--fresh] [--retry] [--quiet]");
    }
    c->talk = (struct emb_study_talk){0.0, isatty(STDERR_FILENO) != 0, a->quiet};
    st = agree(c, emb_study_load(a->word, &c->s, NULL, err), err);
    return st == EMB_OK ? study(c, a, emb_study_journal(a, a->word, name, sizeof name), err) : st;
}

int main(int argc, char **argv)
{
    static const struct emb_cli_command command = {
        .name = "emberpipe-mpi", .argument = "FILE", .bit = EMB_CLI_STUDY, .max_words = 1};
    struct crew c = {.sending = MPI_REQUEST_NULL};
    struct emb_cli_args a;
    struct emb_err err = {EMB_OK, "", ""};
    emb_signals_begin(&c.signals); /* first: the threads of MPI inherit the mask */
    MPI_Init(&argc, &argv);
    MPI_Comm_rank(MPI_COMM_WORLD, &c.rank);
    MPI_Comm_size(MPI_COMM_WORLD, &c.size);
    c.left = c.size - 1;
    enum emb_status st = emb_cli_parse(argc - 1, argv + 1, &command, &a, &err);
    st = st == EMB_OK ? run(&a, &c, &err) : st;
    /* mostly all ranks have the same to say, and one of them says it */
    if (err.status != EMB_OK && (c.rank == 0 || c.odd_one)) {
        fprintf(stderr, "emberpipe-mpi: %s%s%s\n", err.where, err.where[0] != '\0' ? ": " : "",
                err.msg);
    }
    emb_cli_args_free(&a);
    crew_free(&c);
    emb_signals_end(&c.signals);
    MPI_Finalize();
    return (int)st;
}
