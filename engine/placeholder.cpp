namespace heapcast::engine {}
