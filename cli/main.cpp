#include "cli/commands.hpp"

int main(int argc, char** argv) {
  return heapcast::cli::run_program(argc, argv);
}
