#include "emberpipe/version.h"

int emb_abi(void) { return EMB_ABI; }
const char *emb_version(void) { return EMB_VERSION; }
