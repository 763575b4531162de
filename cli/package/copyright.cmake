# Writes OUTPUT: Heapcast's licence in short and in full those of the libraries of which code is in
# the program itself (PARTS, a list of NAME=FILE: a header or what else is built in), as the Debian
# package that owns the file states it. Run in script mode.
set(text "Heapcast ${VERSION}

Copyright the Heapcast project. Licensed under the Apache License, Version 2.0; on Debian systems
its full text is in /usr/share/common-licenses/Apache-2.0. The program and the library come without
warranty of any kind.

The program also holds code of the libraries below, under their licences.
")
foreach(part IN LISTS PARTS)
  string(REGEX MATCH "^([^=]*)=(.*)$" _ "${part}")
  set(name ${CMAKE_MATCH_1})
  set(owner)
  execute_process(COMMAND dpkg-query -S ${CMAKE_MATCH_2} OUTPUT_VARIABLE owner ERROR_QUIET
                  RESULT_VARIABLE status)
  string(REGEX REPLACE "[:,].*" "" owner "${owner}")
  set(notice /usr/share/doc/${owner}/copyright)
  if(NOT status EQUAL 0 OR NOT EXISTS ${notice})
    message(WARNING "The licence of ${name} is not on this machine: add it to ${OUTPUT} before you "
                    "hand out the program")
    continue()
  endif()
  file(READ ${notice} licence)
  string(REPEAT "-" 80 line)
  string(APPEND text "\n${line}\n${name}\n\n${licence}")
endforeach()
file(WRITE ${OUTPUT} "${text}")
