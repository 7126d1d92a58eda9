package road

func (b *builder) drawn(q *section, l, r []node) ([]node, []node, error) {
	return l, r, nil
}
