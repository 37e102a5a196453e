package cue

// Scene is the snapshot as a scene in the mixer can hold it: one number for each parameter, with nothing that glides.
// Pan and place are those at the cue's moment. A delay is the one that the mixer would have if it did not glide, since
// nothing moves it on.
func (s *Snapshot) Scene() Snapshot {
	scene := *s
	scene.Channels = make([]Channel, len(s.Channels))
	for i, c := range s.Channels {
		if c.SceneMS != nil {
			c.DelayMS = *c.SceneMS
		}
		c.Glide, c.Early = nil, nil
		scene.Channels[i] = c
	}
	return scene
}
