package training

// Records is what the services need of a store. Storage methods carry the
// trade's verbs; each says which error means absent.
type Records interface{}
