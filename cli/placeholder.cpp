namespace heapcast::cli {}
