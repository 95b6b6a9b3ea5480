# The page in a real browser. -DEMBERPIPE_PAGE_TESTS=OFF leaves this out where there is none.
option(EMBERPIPE_PAGE_TESTS "Test the report page in headless Chromium" ON)
if(EMBERPIPE_PAGE_TESTS AND NOT EMBERPIPE_SANITIZE) # the browser would wait for the slow program
  find_program(CHROMIUM NAMES chromium chromium-browser google-chrome REQUIRED)
  find_program(NODE NAMES node nodejs REQUIRED)
  find_program(NPM npm REQUIRED)
  set(page ${CMAKE_CURRENT_SOURCE_DIR}/page)
  set(modules ${CMAKE_BINARY_DIR}/page-test)
  add_custom_command(OUTPUT ${modules}/node_modules/playwright-core/package.json
    COMMAND ${CMAKE_COMMAND} -E copy ${page}/package.json ${page}/package-lock.json ${modules}
    COMMAND ${CMAKE_COMMAND} -E chdir ${modules} ${NPM} ci --ignore-scripts --no-audit --no-fund --silent
    DEPENDS ${page}/package.json ${page}/package-lock.json COMMENT "Fetching playwright-core with npm" VERBATIM)
  file(MAKE_DIRECTORY ${modules})
  add_custom_target(page_test_modules ALL DEPENDS ${modules}/node_modules/playwright-core/package.json)
  add_executable(page_hostile page/hostile.c)
  target_link_libraries(page_hostile PRIVATE emberpipe_static)
  add_test(NAME slow_page COMMAND ${CMAKE_COMMAND} -E env PROGRAM=$<TARGET_FILE:emberpipe_cli> HOSTILE=$<TARGET_FILE:page_hostile>
           CONFIGS=${CMAKE_SOURCE_DIR}/configs MODULES=${modules} CHROMIUM=${CHROMIUM} ${NODE} --test ${page}/page.test.mjs)
  set_tests_properties(slow_page PROPERTIES TIMEOUT 300)
endif()
