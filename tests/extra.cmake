# Tests that are no C programs: the command line row by row, and the house rules.
find_package(Python3 REQUIRED COMPONENTS Interpreter)
add_test(NAME pictures COMMAND ${Python3_EXECUTABLE} tests/cli/pictures.py $<TARGET_FILE:emberpipe_cli> ${CMAKE_SOURCE_DIR}
         WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
add_test(NAME cli COMMAND ${Python3_EXECUTABLE} tests/cli/run.py $<TARGET_FILE:emberpipe_cli>
         WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
set_tests_properties(cli pictures PROPERTIES ENVIRONMENT "LSAN_OPTIONS=suppressions=${CMAKE_CURRENT_SOURCE_DIR}/support/lsan.supp:print_suppressions=0"
                     TIMEOUT 1500)
foreach(what kill stop full netcdf analyse local map search)
  add_test(NAME study_${what} COMMAND ${Python3_EXECUTABLE} tests/study/check.py $<TARGET_FILE:emberpipe_cli> ${what}
           WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
  set_tests_properties(study_${what} PROPERTIES TIMEOUT 300)
endforeach()
if(TARGET emberpipe_mpi AND NOT EMBERPIPE_SANITIZE) # the MPI library leaks by itself
  add_test(NAME study_mpi COMMAND ${Python3_EXECUTABLE} tests/study/check.py $<TARGET_FILE:emberpipe_cli> mpi
           $<TARGET_FILE:emberpipe_mpi> WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
  set_tests_properties(study_mpi PROPERTIES TIMEOUT 300)
endif()
foreach(rule layers banned lengths)
  add_test(NAME rule_${rule} COMMAND sh tests/rules/${rule}.sh WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
endforeach()
add_test(NAME rule_headers COMMAND sh tests/rules/headers.sh ${CMAKE_C_COMPILER} WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
if(NOT EMBERPIPE_SANITIZE) # these add writable data of their own, and a runtime that must be loaded first
  add_test(NAME rule_globals COMMAND sh tests/rules/globals.sh $<TARGET_FILE:emberpipe_static>
           WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
  add_test(NAME install COMMAND sh tests/install/check.sh ${CMAKE_BINARY_DIR} ${CMAKE_C_COMPILER} ${CMAKE_COMMAND}
           WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
endif()
# The waist under a stopwatch, for tests/bench/run.py; golden counts of work need no stopwatch. --wrap is GNU ld's and lld's.
add_executable(emb_bench bench/bench.c)
target_compile_definitions(emb_bench PRIVATE _POSIX_C_SOURCE=200809L)
target_include_directories(emb_bench PRIVATE ${CMAKE_SOURCE_DIR}/src)
target_link_libraries(emb_bench PRIVATE emberpipe_static)
target_link_options(emb_bench PRIVATE LINKER:--wrap=emb_sim_ode LINKER:--wrap=CVodeSetNonlinConvCoef)
set_target_properties(emb_bench PROPERTIES RUNTIME_OUTPUT_DIRECTORY ${CMAKE_BINARY_DIR})
if(NOT EMBERPIPE_SANITIZE)
  add_test(NAME bench_counters COMMAND ${Python3_EXECUTABLE} tests/bench/run.py ${CMAKE_BINARY_DIR} --counters
           WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
  set_tests_properties(bench_counters PROPERTIES TIMEOUT 600)
endif()
